"""What the pages say: every sentence from one catalogue file a language, ``config/words/<language>.toml``.

Numbers, dates, money and the forms of a plural are as the file's locale has them (CLDR, through babel).
"""

import copy
import datetime as dt
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from numbers import Integral
from pathlib import Path
from typing import Any, Final

import pandas as pd
from babel import Locale, UnknownLocaleError
from babel.dates import format_date
from babel.lists import format_list
from babel.numbers import NumberPattern, format_currency
from markupsafe import Markup, escape

from pipeline.errors import SettingsError
from pipeline.programme.resources import shipped

__all__ = ["BRACES", "MAP_TABLES", "Words", "load_words", "plain_text", "title_text", "words_of"]

# what the map carries along; the other tables are the report's and the comparison's
MAP_TABLES: Final = (
    "locale", "status", "severity", "unit", "header", "legend", "view", "filter", "card", "lists", "table", "unplaced",
    "districts", "orders", "panel", "cautions", "about", "paper", "plain",
)  # fmt: skip
_BASE: Final = "en"
_LANGUAGE: Final = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]+)*")
BRACES: Final = re.compile(r"\{(\w+)\}")
_CLASSES: Final = {"zero", "one", "two", "few", "many", "other"}
# a register cell can hold a whole file; the tables keep all of it
_LONGEST: Final = 400
# what turns the direction of the text around it, and what a page cannot show
_UNSHOWN: Final = re.compile("[\x00-\x1f\x7f\u2028\u2029\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]+")
_ISOLATE, _END_ISOLATE = "\u2068", "\u2069"


def load_words(language: str = _BASE, tables: tuple[str, ...] | None = None) -> dict[str, Any]:
    """Return the sentences by their key, table and name with a point between: a text, or texts by plural class.

    Parameters
    ----------
    language
        Name of a file in ``config/words``.
    tables
        The tables wanted; None: all.

    Raises
    ------
    SettingsError
        There is no catalogue of that language, or it lacks a sentence that the English one has, has one that it has
        not, or names in braces what nothing fills in. No sentence of another language stands in for a missing one.
    """
    folder = shipped("config") / "words"
    known = sorted(file.stem for file in folder.glob("*.toml"))
    if not _LANGUAGE.fullmatch(language) or language not in known:
        raise SettingsError(
            f"programme.language: no words for the language {language!r}. There are words for: {', '.join(known)}."
        )
    path = folder / f"{language}.toml"
    words = _read(path)
    base = words if language == _BASE else _read(path.with_stem(_BASE))
    _refuse(words, base, path.name)
    return {key: said for key, said in words.items() if tables is None or key.split(".")[0] in tables}


def _read(path: Path) -> dict[str, Any]:
    try:
        written = tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsError(f"config/words/{path.name}: cannot be read: {error}. Correct the file.") from error
    flat: dict[str, Any] = {}
    for table, sentences in written.items():
        if isinstance(sentences, dict):
            flat |= {f"{table}.{key}": sentence for key, sentence in sentences.items()}
        else:
            flat[table] = sentences
    return flat


def _refuse(words: dict[str, Any], base: dict[str, Any], name: str) -> None:
    where = f"config/words/{name}"
    # what is data in English may be said in another language, and need not be
    data = {key for key in words if key.startswith("data.")}
    base = base | {key: key.removeprefix("data.") for key in data}
    for said, keys in (
        ("lacks", sorted(base.keys() - words.keys())),
        ("has what nothing says:", sorted(words.keys() - base.keys())),
    ):
        if keys:
            raise SettingsError(
                f"{where}: {said} {', '.join(keys)}. A language has the keys of config/words/{_BASE}.toml, all of "
                "them and no others."
            )
    for key, said in words.items():
        forms = said if isinstance(said, dict) else {"other": said}
        if not (forms.keys() <= _CLASSES and "other" in forms and all(isinstance(one, str) for one in forms.values())):
            raise SettingsError(
                f"{where}: {key}: found {said!r}, expected a sentence, or one for each of the classes of the "
                f"language's plural: {', '.join(sorted(_CLASSES))}; other is always among them."
            )
        strange = _braces(said) - _braces(base[key])
        if strange:
            raise SettingsError(
                f"{where}: {key}: nothing fills in {', '.join(sorted(strange))}. Names in braces are those of "
                f"config/words/{_BASE}.toml: {', '.join(sorted(_braces(base[key]))) or 'none here'}."
            )
    try:
        Locale.parse(words["locale"], sep="-")
    except (ValueError, UnknownLocaleError) as error:
        raise SettingsError(
            f'{where}: locale: found {words["locale"]!r}, expected a locale of CLDR, such as "en-GB".'
        ) from error


def _braces(said: str | dict[str, str]) -> set[str]:
    forms = said.values() if isinstance(said, dict) else [said]
    return {name for one in forms for name in BRACES.findall(one)}


def title_text(value: object, most: int = 120) -> str:
    """Return text of a register for a window's title: in one line, cut, without what turns directions."""
    text = _UNSHOWN.sub(" ", str(value))
    return text if len(text) <= most else f"{text[: most - 1]}…"


def plain_text(value: object, most: int = 120) -> str:
    """Return text of a register for a chart, where no markup can isolate it: as a title, its direction its own."""
    return _ISOLATE + title_text(value, most) + _END_ISOLATE


@dataclass(frozen=True)
class Words:
    """The sentences of one language, and how it writes numbers and dates.

    A sentence is escaped when it is said, and so is every value in it that is not markup of ours.
    """

    language: str
    sentences: dict[str, Any]
    locale: Locale

    @property
    def direction(self) -> str:
        """``ltr`` or ``rtl``."""
        return str(self.locale.text_direction)

    def say(self, key: str, **values: object) -> Markup:
        """Return a sentence as markup, with what stands in its braces filled in; ``n`` chooses the plural's form."""
        parts = [
            escape(self._shown(values[part]) if place % 2 else part)
            for place, part in enumerate(BRACES.split(self._sentence(key, values)))
        ]
        return Markup().join(parts)

    def plainly(self, key: str, **values: object) -> str:
        """Return a sentence as plain text, for the title of a chart; text of a register comes as ``plain_text``."""
        return BRACES.sub(lambda found: str(self._shown(values[found[1]])), self._sentence(key, values))

    def _sentence(self, key: str, values: dict[str, Any]) -> str:
        said = self.sentences[key]
        if isinstance(said, str):
            return said
        form = self.locale.plural_form(values["n"])
        return str(said.get(form, said["other"]))

    def _shown(self, value: object) -> object:
        return self.number(value) if isinstance(value, Integral) else value

    def own(self, value: object, most: int = _LONGEST) -> Markup:
        """Return text of a register, a layer or a setting: escaped, kept apart in direction, cut with a note."""
        if value is None or (isinstance(value, float) and pd.isna(value)):
            return Markup()
        text = str(value)
        if len(text) <= most:
            return Markup("<bdi>{}</bdi>").format(text)
        return self.say("format.cut", text=Markup("<bdi>{}</bdi>").format(text[:most]), n=len(text))

    def rule(self, slug: str) -> str:
        """Return what people call a rule: "Permit expired" for ``permit-expired``, or the language's own words."""
        label = slug.replace("-", " ").capitalize()
        return str(self.sentences.get(f"data.{label}", label))

    def number(self, value: Any, digits: int = 0) -> str:  # noqa: ANN401 - any kind of number
        """Return a number with so many digits after the mark."""
        return self._written(self.locale.decimal_formats[None], value, (digits, digits))

    def measure(self, value: float) -> str:
        """Return a setting's number with the digits it has, six at the most."""
        return self._written(self.locale.decimal_formats[None], float(f"{value:.6g}"), (0, 6))

    def signed(self, value: float, digits: int = 0) -> str:
        """Return a difference with its sign, and nothing for none."""
        if round(value, digits) == 0:
            return ""
        return ("+" if value > 0 else "\N{MINUS SIGN}") + self.number(abs(value), digits)

    def percent(self, share: float, digits: int = 0) -> str:
        """Return a share in per cent."""
        return self._written(self.locale.percent_formats[None], share, (digits, digits))

    def _written(self, pattern: NumberPattern, value: Any, digits: tuple[int, int]) -> str:  # noqa: ANN401
        own = copy.copy(pattern)
        own.frac_prec = digits
        return str(own.apply(value, self.locale))

    def money(self, value: float, currency: str | None) -> Markup:
        """Return an amount in the currency of a programme; it is whatever the programme says."""
        if currency is None:
            return escape(self.number(value, 2))
        return self.own(format_currency(value, currency[:12], locale=self.locale))

    def day(self, day: dt.date | str) -> str:
        """Return a date, or what stands in its place, as the locale writes it."""
        when = dt.date.fromisoformat(day) if isinstance(day, str) else day
        return str(format_date(when, "medium", locale=self.locale))

    def date(self, day: dt.date | str) -> Markup:
        """Return a date as markup that machines can read too."""
        return Markup('<time datetime="{}">{}</time>').format(str(day)[:10], self.day(day))

    def listed(self, parts: Iterable[object]) -> Markup:
        """Return parts as a list in a sentence, with the language's commas and its word for "and"."""
        escaped = [escape(part) for part in parts]
        # the library joins plain text: places for the parts go in, the parts themselves afterwards
        marks = [f"\x00{place}\x00" for place in range(len(escaped))]
        joined = str(escape(format_list(marks, locale=self.locale))) if marks else ""
        return Markup(re.sub("\x00(\\d+)\x00", lambda found: str(escaped[int(found[1])]), joined))  # noqa: S704


def words_of(language: str, sentences: dict[str, Any] | None = None) -> Words:
    """Return a language ready to speak; ``sentences`` in place of its file's.

    Raises
    ------
    SettingsError
        As ``load_words``.
    """
    said = load_words(language) if sentences is None else sentences
    return Words(language, said, Locale.parse(said["locale"], sep="-"))
