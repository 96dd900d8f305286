"""The signature of a pack: what OpenSSH's own tool makes and checks, with keys made for the test."""

import shutil
import subprocess

import pytest

from pipeline.errors import InputError, OutputError
from pipeline.publish.handover.sign import NAMESPACE, check_signature, sign

pytestmark = pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="OpenSSH is not installed")
WHO = "roads@utility.example"


def _key(folder, name="key", passphrase=""):
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", passphrase, "-C", "", "-f", folder / name], check=True)
    return folder / name


def _allowed(key, options=""):
    file = key.with_name("allowed_signers")
    file.write_text(f"{WHO} {options} {key.with_suffix('.pub').read_text()}")
    return file


@pytest.fixture
def pack(tmp_path):
    folder = tmp_path / "pack"
    folder.mkdir()
    (folder / "SHA256SUMS").write_text("0" * 64 + "  map.html\n")
    return folder


def test_openssh_alone_verifies_the_signature_and_the_same_key_gives_the_same_one(pack, tmp_path):
    key = _key(tmp_path)
    signature = sign(pack / "SHA256SUMS", key)
    first = signature.read_bytes()
    done = subprocess.run(
        ["ssh-keygen", "-Y", "verify", "-f", _allowed(key), "-I", WHO, "-n", NAMESPACE, "-s", signature],
        input=(pack / "SHA256SUMS").read_bytes(),
        capture_output=True,
        check=True,
    )
    assert f'Good "{NAMESPACE}" signature for {WHO}' in done.stdout.decode()
    signature.unlink()
    assert sign(pack / "SHA256SUMS", key).read_bytes() == first


def test_the_signer_is_named_and_another_text_key_name_or_time_is_refused(pack, tmp_path):
    key = _key(tmp_path)
    sign(pack / "SHA256SUMS", key)
    problems = []
    assert check_signature(pack, _allowed(key), None, problems) == WHO
    assert check_signature(pack, _allowed(key, 'valid-after="20200101"'), WHO, problems) == WHO
    assert problems == []
    refused = [("", "someone@else.example"), ('valid-before="20200101"', None), ('namespaces="file"', None)]
    for number, (options, who) in enumerate(refused):
        assert check_signature(pack, _allowed(key, options), who, problems) is None
        assert len(problems) == number + 1
    (tmp_path / "other").mkdir()
    assert check_signature(pack, _allowed(_key(tmp_path / "other")), None, problems) is None
    (pack / "SHA256SUMS").write_text("1" * 64 + "  map.html\n")
    assert check_signature(pack, _allowed(key), None, problems) is None
    assert all("not a valid signature" in problem for problem in problems)
    (pack / "SHA256SUMS.sig").unlink()
    assert check_signature(pack, _allowed(key), None, problems) is None
    assert problems[-1].startswith("SHA256SUMS.sig: missing")


def test_a_key_that_is_missing_or_has_a_passphrase_is_refused_without_asking(pack, tmp_path):
    with pytest.raises(OutputError, match=r"handover\.sign_with: none: no such file"):
        sign(pack / "SHA256SUMS", tmp_path / "none")
    with pytest.raises(OutputError, match="A key with a passphrase needs an agent: run ssh-add"):
        sign(pack / "SHA256SUMS", _key(tmp_path, passphrase="secret words"))
    with pytest.raises(InputError, match="allowed_signers"):
        check_signature(pack, tmp_path / "none", None, [])


def test_without_openssh_it_says_what_to_install(pack, tmp_path, monkeypatch):
    key = _key(tmp_path)
    monkeypatch.setenv("PATH", "")
    with pytest.raises(OutputError, match="Install OpenSSH, or remove sign_with"):
        sign(pack / "SHA256SUMS", key)
