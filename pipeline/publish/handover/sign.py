"""The signature of a pack's checksums, in OpenSSH's format: made and checked by ``ssh-keygen`` alone.

A private key is never read here: OpenSSH reads it, or its agent signs. Signatures with Ed25519 and RSA keys are the
same each time; those with ECDSA and security keys are not, so that the zip then differs from run to run.
"""

import os
import shutil
import subprocess
from pathlib import Path
from typing import Final

from pipeline.errors import InputError, OutputError
from pipeline.readback.pack_files import MANIFEST, SIGNATURE

__all__ = ["NAMESPACE", "check_signature", "sign"]

# OpenSSH (PROTOCOL.sshsig) asks for names that others do not use, and for NAME@YOUR.DOMAIN where there is a domain;
# a signature made for another purpose does not count as one of a pack
NAMESPACE: Final = "kerfbook-handover"
_TOOL: Final = "ssh-keygen"
_MOST_SECONDS: Final = 60


def sign(manifest: Path, key: Path) -> Path:
    """Write ``SHA256SUMS.sig`` beside the checksums, and return its path.

    Parameters
    ----------
    manifest
        ``SHA256SUMS``.
    key
        A private key without a passphrase, or the public half of one that an agent holds.

    Raises
    ------
    OutputError
        OpenSSH is not installed, or could not sign with that key.
    """
    if not key.is_file():
        raise OutputError(
            f"handover.sign_with: {key.name}: no such file, expected a private or public key. Correct the path."
        )
    done = _run(["-Y", "sign", "-q", "-n", NAMESPACE, "-f", str(key), str(manifest)])
    if done is None:
        raise OutputError(
            f"handover.sign_with: {_TOOL} was not found, expected OpenSSH on the PATH. Install OpenSSH, or remove "
            "sign_with."
        )
    if done.returncode or not manifest.with_name(SIGNATURE).is_file():
        raise OutputError(
            f"handover.sign_with: {key.name}: could not sign ({_last_line(done.stderr)}). A key with a passphrase "
            "needs an agent: run ssh-add, and give the public key (.pub) as sign_with."
        )
    return manifest.with_name(SIGNATURE)


def check_signature(folder: Path, signers: Path, identity: str | None, problems: list[str]) -> str | None:
    """Return who signed a pack, as ``ssh-keygen -Y verify`` finds it today; add to the problems if nobody known did.

    Parameters
    ----------
    folder
        The pack.
    signers
        Keys in OpenSSH's format ``allowed_signers``; dates of validity are compared with the present day.
    identity
        Who must have signed; None: any of the signers.
    problems
        What is wrong with the pack.

    Raises
    ------
    InputError
        OpenSSH is not installed, or there are no signers to compare with.
    """
    if not signers.is_file():
        raise InputError(
            f"{signers}: no such file, expected keys in OpenSSH's format allowed_signers. Correct --signer."
        )
    signature = folder / SIGNATURE
    if not signature.exists():
        problems.append(f"{SIGNATURE}: missing: the pack is not signed, and a signature was asked for")
        return None
    given = ["-s", str(signature), "-f", str(signers)]
    content = (folder / MANIFEST).read_bytes()
    names = [identity] if identity is not None else _principals(given)
    last = "no allowed signer has this key today: another key, or outside its dates of validity"
    for name in names:
        done = _run(["-Y", "verify", "-q", "-n", NAMESPACE, "-I", name, *given], content)
        if done is not None and done.returncode == 0:
            return name
        said = b"" if done is None else done.stderr + done.stdout
        last = _last_line(said) if said.strip() else last
    problems.append(f"{SIGNATURE}: not a valid signature of {identity or 'an allowed signer'} ({last})")
    return None


def _principals(given: list[str]) -> list[str]:
    """Return whose key made a signature, by the list of signers."""
    done = _run(["-Y", "find-principals", *given])
    if done is None:
        raise InputError(f"--signer: {_TOOL} was not found, expected OpenSSH on the PATH. Install OpenSSH.")
    # principals of one line are separated by commas
    return [name for line in done.stdout.decode("utf-8", "replace").splitlines() for name in line.split(",") if name]


def _run(arguments: list[str], content: bytes = b"") -> subprocess.CompletedProcess[bytes] | None:
    """Run OpenSSH's tool without a terminal, so that it cannot ask for a passphrase; None if it is not installed."""
    tool = shutil.which(_TOOL)
    if tool is None:
        return None
    # no window that asks for a passphrase either
    own = {**os.environ, "SSH_ASKPASS_REQUIRE": "never", "LC_ALL": "C"}
    try:
        return subprocess.run(  # noqa: S603 - the program is OpenSSH's, and its arguments are paths and names
            [tool, *arguments],
            input=content,
            capture_output=True,
            check=False,
            timeout=_MOST_SECONDS,
            env=own,
            start_new_session=True,
        )
    except subprocess.TimeoutExpired:
        return subprocess.CompletedProcess(arguments, 1, b"", b"no answer within a minute")


def _last_line(text: bytes) -> str:
    lines = text.decode("utf-8", "replace").strip().splitlines()
    return lines[-1] if lines else "no reason given"
