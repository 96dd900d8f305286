"""The sentences of the pages, from one file per language: ``config/words/<language>.toml``.

Numbers, dates, money and plural forms follow the file's locale (CLDR, through babel).
"""

import datetime as dt
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from numbers import Integral
from pathlib import Path
from typing import Any, Final

import pandas as pd
from babel import Locale, UnknownLocaleError
from babel.numbers import format_currency
from markupsafe import Markup, escape

from pipeline.errors import SettingsError
from pipeline.programme.resources import languages, shipped
from pipeline.publish.written_values import BRACES, listed_parts, sentence_parts, written_day, written_number
from pipeline.visible_text import visible

__all__ = ["BRACES", "MAP_TABLES", "Words", "as_markup", "load_words", "plain_text", "title_text", "words_of"]

# the tables that the map carries; the others are for the report, the comparison and the handover's page
MAP_TABLES: Final = (
    "locale", "status", "state", "severity", "urgency", "accepted", "unit", "header", "legend", "view", "filter",
    "answers", "works", "change", "card", "search", "lists", "table", "unplaced", "districts", "orders", "panel",
    "cautions", "about", "grid", "measure", "locator", "paper", "plain", "streets", "months",
)  # fmt: skip
_BASE: Final = "en"
_LANGUAGE: Final = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]+)*")
_PLURAL_CLASSES: Final = {"zero", "one", "two", "few", "many", "other"}
# characters of a text; a register cell can hold a whole file, and the tables keep all of it
_LONGEST: Final = 400
_BREAKS: Final = re.compile(r"[\t\r\n]+")
# words of a slug that are written in capitals
_ACRONYM: Final = re.compile(r"\bdms\b")
_ISOLATE, _END_ISOLATE = "\u2068", "\u2069"


def load_words(language: str = _BASE, tables: tuple[str, ...] | None = None) -> dict[str, Any]:
    """Return the sentences of a language by key, such as ``report.contents``: a text, or a text per plural class.

    Parameters
    ----------
    language
        Name of a file in ``config/words``.
    tables
        The tables wanted; None returns all of them.

    Raises
    ------
    SettingsError
        There is no file for that language, or it lacks a sentence that English has, has one that English lacks, or
        names in braces a value that is not filled in. A missing sentence is never replaced by another language's.
    """
    folder = shipped("config") / "words"
    known = languages(folder.parent)
    if not _LANGUAGE.fullmatch(language) or language not in known:
        raise SettingsError(
            f"programme.language: found {language!r}, expected one of the languages in config/words: "
            f"{', '.join(known)}. Choose one of these, or add a file for {language!r}."
        )
    texts = {name: _text(folder / f"{name}.toml") for name in (language, _BASE)}
    words = _accepted(language, texts[language], texts[_BASE])
    return {key: sentence for key, sentence in words.items() if tables is None or key.split(".")[0] in tables}


def _text(path: Path) -> str:
    try:
        return path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise _unreadable(path.name, error) from error


# a run asks for its words a dozen times, and reading them takes longer than most pages
@lru_cache(maxsize=8)
def _accepted(language: str, text: str, base_text: str) -> dict[str, Any]:
    """Return the sentences of a language's file by key; ``base_text``: the English file."""
    words = _flat(language, text)
    base = words if language == _BASE else _flat(_BASE, base_text)
    _refuse(words, base, f"{language}.toml")
    return words


def _unreadable(name: str, error: Exception) -> SettingsError:
    return SettingsError(f"config/words/{name}: cannot be read: {error}. Correct the file.")


def _flat(language: str, text: str) -> dict[str, Any]:
    try:
        written = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _unreadable(f"{language}.toml", error) from error
    flat: dict[str, Any] = {}
    for table, sentences in written.items():
        if isinstance(sentences, dict):
            flat |= {f"{table}.{key}": sentence for key, sentence in sentences.items()}
        else:
            flat[table] = sentences
    return flat


def _refuse(words: dict[str, Any], base: dict[str, Any], name: str) -> None:
    """Raise a SettingsError unless a language's file has exactly the sentences of the English one."""
    where = f"config/words/{name}"
    # sentences that are data in English may be translated in the table [data], but need not be
    base = base | {key: key.removeprefix("data.") for key in words if key.startswith("data.")}
    _refuse_keys(words, base, where)
    for key, sentence in words.items():
        forms = sentence if isinstance(sentence, dict) else {"other": sentence}
        if not (
            forms.keys() <= _PLURAL_CLASSES
            and "other" in forms
            and all(isinstance(text, str) for text in forms.values())
        ):
            raise SettingsError(
                f"{where}: {key}: found {sentence!r}, expected a sentence, or a table of plural forms with the form "
                f"other and any of {', '.join(sorted(_PLURAL_CLASSES - {'other'}))}. Correct the entry."
            )
        strange = _braces(sentence) - _braces(base[key])
        if strange:
            raise SettingsError(
                f"{where}: {key}: nothing fills in {', '.join(sorted(strange))}. Use only the names in braces that "
                f"config/words/{_BASE}.toml has there: {', '.join(sorted(_braces(base[key]))) or 'none'}."
            )
    try:
        Locale.parse(words["locale"], sep="-")
    except (ValueError, UnknownLocaleError) as error:
        raise SettingsError(
            f'{where}: locale: found {words["locale"]!r}, expected a CLDR locale such as "en-GB". Correct it.'
        ) from error


def _refuse_keys(words: dict[str, Any], base: dict[str, Any], where: str) -> None:
    english = f"config/words/{_BASE}.toml"
    missing, unknown = sorted(base.keys() - words.keys()), sorted(words.keys() - base.keys())
    if missing:
        raise SettingsError(
            f"{where}: lacks {', '.join(missing)}. A language needs every key of {english}: add and translate them."
        )
    if unknown:
        raise SettingsError(
            f"{where}: has {', '.join(unknown)}, which {english} has not and nothing uses. Remove or rename them."
        )


def _braces(sentence: str | dict[str, str]) -> set[str]:
    """Return the names in braces of a sentence, over all its plural forms."""
    forms = sentence.values() if isinstance(sentence, dict) else [sentence]
    return {name for text in forms for name in BRACES.findall(text)}


def title_text(value: object, most: int = 120) -> str:
    """Return text from a register for a window title: on one line, shortened, with nothing in it that is not seen."""
    text = visible(_BREAKS.sub(" ", str(value)))
    return text if len(text) <= most else f"{text[: most - 1]}…"


def plain_text(value: object, most: int = 120) -> str:
    """Return the same for a chart, between characters that isolate its direction, as markup would on a page."""
    return _ISOLATE + title_text(value, most) + _END_ISOLATE


def as_markup(value: object) -> Markup:
    """Return a value escaped; markup as it is, which the library would make anew."""
    return value if isinstance(value, Markup) else escape(value)


@dataclass(frozen=True)
class Words:
    """The sentences of one language, and how it writes numbers and dates.

    Sentences are escaped, and so is every value filled into them that is not already markup.
    """

    language: str
    sentences: dict[str, Any]
    locale: Locale

    @property
    def direction(self) -> str:
        """The direction of the script, ``ltr`` or ``rtl``."""
        return str(self.locale.text_direction)

    def say(self, key: str, **values: object) -> Markup:
        """Return a sentence as markup with its values filled in; the value ``n`` chooses the plural form."""
        parts = sentence_parts(self._sentence(key, values), is_markup=True)
        # the text is escaped, and so is every value
        return Markup(  # noqa: S704
            "".join([as_markup(self._shown(values[part])) if place % 2 else part for place, part in enumerate(parts)])
        )

    def plainly(self, key: str, **values: object) -> str:
        """Return a sentence as plain text, for a chart; pass text from a register through ``plain_text`` first."""
        parts = sentence_parts(self._sentence(key, values), is_markup=False)
        return "".join([str(self._shown(values[part])) if place % 2 else part for place, part in enumerate(parts)])

    def _sentence(self, key: str, values: dict[str, Any]) -> str:
        sentence = self.sentences[key]
        if isinstance(sentence, str):
            return sentence
        form = self.locale.plural_form(values["n"])
        return str(sentence.get(form, sentence["other"]))

    def _shown(self, value: object) -> object:
        # most values are texts, and it takes long to see that these are no whole numbers
        return value if isinstance(value, str) or not isinstance(value, Integral) else self.number(value)

    def own(self, value: object, most: int = _LONGEST) -> Markup:
        """Return text from a register, layer or setting as markup: visible, escaped, isolated, shortened."""
        if value is None or (isinstance(value, float) and pd.isna(value)):
            return Markup()
        text = str(value)
        shown = Markup(f"<bdi>{escape(visible(text[:most]))}</bdi>")  # noqa: S704 - escaped
        return shown if len(text) <= most else self.say("format.cut", text=shown, n=len(text))

    def translated(self, text: str) -> str:
        """Return an English text of the catalogue or the contracts as the language has it, or else in English."""
        return str(self.sentences.get(f"data.{text}", text))

    def rule(self, slug: str) -> str:
        """Return a rule's label: "Permit expired" for ``permit-expired``, or the language's translation of it."""
        label = slug.replace("-", " ").capitalize()
        return self.translated(_ACRONYM.sub(lambda found: found[0].upper(), label))

    def rule_label(self, slug: str) -> Markup:
        """Return a rule's label as markup."""
        return self.own(self.rule(slug))

    def number(self, value: Any, digits: int = 0) -> str:  # noqa: ANN401 - any kind of number
        """Return a number with ``digits`` decimals."""
        return written_number(self.locale, "decimal", str(value), (digits, digits))

    def measure(self, value: float) -> str:
        """Return a number from the settings with the digits it has, six significant ones at most."""
        # adding zero takes the sign from "-0", which is no temperature
        return written_number(self.locale, "decimal", str(round(float(f"{value:.6g}"), 6) + 0.0), (0, 6))

    def signed(self, value: float, digits: int = 0) -> str:
        """Return a difference with its sign, or an empty text for zero."""
        if round(value, digits) == 0:
            return ""
        return ("+" if value > 0 else "\N{MINUS SIGN}") + self.number(abs(value), digits)

    def percent(self, share: float, digits: int = 0) -> str:
        """Return a share in percent with ``digits`` decimals."""
        return written_number(self.locale, "percent", str(share), (digits, digits))

    def money(self, value: float, currency: str | None) -> Markup:
        """Return an amount in the programme's currency, which may be any text, or without one."""
        if currency is None:
            return escape(self.number(value, 2))
        return self.own(format_currency(value, currency[:12], locale=self.locale))

    def day(self, day: dt.date | str) -> str:
        """Return a date, given as such or in ISO form, as the locale writes it."""
        when = dt.date.fromisoformat(day) if isinstance(day, str) else day
        return written_day(self.locale, when, "medium")

    def date(self, day: dt.date | str) -> Markup:
        """Return a date as markup that programs can read too."""
        return _time(str(day)[:10], self.day(day))

    def weekday(self, day: dt.date) -> Markup:
        """Return a date with its day of the week, as markup that programs can read too."""
        return _time(day.isoformat(), written_day(self.locale, day, "full"))

    def listed(self, parts: Iterable[object]) -> Markup:
        """Return parts as a list in a sentence, with the language's commas and its word for "and"."""
        escaped = [as_markup(part) for part in parts]
        pieces = listed_parts(self.locale, len(escaped))
        return Markup(  # noqa: S704 - every part is escaped
            "".join(escaped[int(piece)] if place % 2 else piece for place, piece in enumerate(pieces))
        )


def _time(day: str, shown: str) -> Markup:
    return Markup(f'<time datetime="{escape(day)}">{escape(shown)}</time>')  # noqa: S704 - escaped


def words_of(language: str, sentences: dict[str, Any] | None = None) -> Words:
    """Return the words of a language; ``sentences`` replaces those of its file.

    Raises
    ------
    SettingsError
        From ``load_words``: there is no file for that language, or its sentences do not match the English ones.
    """
    loaded = load_words(language) if sentences is None else sentences
    return Words(language, loaded, Locale.parse(loaded["locale"], sep="-"))
