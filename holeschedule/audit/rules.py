"""Rule sets: limits with their scope, verdict and source, from TOML files.

A packaged set is called by its source (`faa`). A user's own file extends a packaged set or another
file, and overrides, adds or removes lines; every line keeps its own source. docs/rules.md shows
what each set says and how to write one.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import NoReturn, TypeVar

from holeschedule.data import BASES, FOLDER, choose_from
from holeschedule.errors import LengthError, RuleError, TableError
from holeschedule.fastener_tables import (
    LengthRule,
    ShopHeadLimits,
    shop_head_limits,
    shop_head_names,
)
from holeschedule.model import Head, Quantity, Verdict
from holeschedule.tables import rivet_of_dash, rivet_size
from holeschedule.units import LengthUnit, parse_length

DEFAULT_RULES = "faa"
"""The set where nobody names one."""
OWN_BASIS = "own"
"""Basis of a line that a user states without another."""

LARGEST_LIMIT = 1000.0
"""Shank diameters or inches; a limit beyond it is a slip of the pen."""

QUANTITIES = (
    Quantity.EDGE_DISTANCE,
    Quantity.PITCH,
    Quantity.SPACING,
    Quantity.TRANSVERSE_PITCH,
)
"""What a rule can limit: distances between centres, or from a centre to an edge."""

_FOLDER = FOLDER / "rules"


class Sense(StrEnum):
    """Whether a limit is the least or the most that is allowed."""

    MIN = "min"
    MAX = "max"


class LimitUnit(StrEnum):
    """What a limit counts: shank diameters, or inches."""

    SHANKS = "D"
    INCHES = "in"


class Rows(StrEnum):
    """How many rows of rivets lie side by side."""

    ONE = "one"
    TWO = "two"
    THREE_OR_MORE = "three or more"

    @classmethod
    def counted(cls, number: int) -> Rows:
        """Class `number` rows, 1 or more, side by side."""
        return (cls.ONE, cls.TWO, cls.THREE_OR_MORE)[min(number, 3) - 1]


VERDICTS = {Sense.MIN: (Verdict.CLOSE, Verdict.SHORT), Sense.MAX: (Verdict.WIDE,)}
"""What a missed rule of each sense may be called: too wide never fails an audit."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One limit and where it comes from. Equality is by value.

    `limit` counts `unit`. `head`, `rows` and `rivet` (a dash number) are its scope; None means
    any. `origin` is the name of the set in which the line stands.
    """

    code: str
    quantity: Quantity
    sense: Sense
    limit: float
    unit: LimitUnit
    verdict: Verdict
    source: str
    basis: str
    origin: str
    head: Head | None = None
    rows: Rows | None = None
    rivet: int | None = None
    note: str = ""

    def limit_for(self, shank_diameter: float) -> float:
        """Work out the limit [in] for a rivet of `shank_diameter` [in].

        Raises
        ------
        RuleError
            The shank diameter is not a finite number above 0: no rule could be missed with it.
        """
        if not 0 < shank_diameter < LARGEST_LIMIT:
            raise RuleError(
                f"rule {self.code}: a shank diameter of {shank_diameter} in is none;"
                " it has to be above 0."
            )
        return self.limit * shank_diameter if self.unit is LimitUnit.SHANKS else self.limit

    @property
    def scope(self) -> tuple[int | None, Head | None, Rows | None]:
        """Rivet, head and rows that the rule is for, None for any."""
        return self.rivet, self.head, self.rows

    def applies_to(self, *, head: Head | None, rows: Rows | None, dash: int | None) -> bool:
        """Whether all that the scope states is so; what is not known (None) fits no scope."""
        asked = (dash, head, rows)
        return all(
            own is None or own == other for own, other in zip(self.scope, asked, strict=True)
        )


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Rules that are used together. Equality is by value.

    `layout_tolerance` [in]: a rule met by less is `tight`. `neighbour_rows_within` [D]: rows
    farther apart are not neighbours. `rivet_length` says which length is taken for the one needed,
    `shop_head` what a driven rivet has to look like. Each has its source beside it. `extends`
    names the sets it is built on, nearest first.
    """

    name: str
    title: str
    rules: tuple[Rule, ...]
    layout_tolerance: float
    layout_tolerance_source: str
    neighbour_rows_within: float
    neighbour_rows_within_source: str
    rivet_length: LengthRule
    rivet_length_source: str
    shop_head: ShopHeadLimits
    shop_head_source: str
    extends: tuple[str, ...] = ()

    def rule_for(
        self,
        quantity: Quantity,
        sense: Sense,
        *,
        head: Head | None = None,
        rows: Rows | None = None,
        dash: int | None = None,
    ) -> Rule | None:
        """Pick the most specific rule that applies.

        That is the one whose scope states the most of rivet, head and rows; of two that state
        equally many, rivet goes before head, and head before rows. No set holds two rules of the
        same scope, so there is always one answer, whatever their order.

        Parameters
        ----------
        quantity, sense : Quantity, Sense
            What is limited, and to which side.
        head, rows, dash : Head, Rows, int; optional
            What is known of the rivet and its place; `dash` in 32nds of an inch.

        Returns
        -------
        Rule or None
            None where the set has no rule for this case.
        """
        fits = (
            rule
            for rule in self.rules
            if rule.quantity == quantity
            and rule.sense == sense
            and rule.applies_to(head=head, rows=rows, dash=dash)
        )
        return max(fits, key=_rank, default=None)


def _rank(rule: Rule) -> tuple[int, ...]:
    stated = [part is not None for part in rule.scope]
    return (sum(stated), *stated)


def rule_set_names() -> tuple[str, ...]:
    """List the packaged rule sets by name, sorted."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.toml")))


def load_rule_set(name_or_path: str | Path) -> RuleSet:
    """Read a packaged rule set by its name, or a user's own from its TOML file.

    Parameters
    ----------
    name_or_path : str or Path
        A name of `rule_set_names`, in any case, or the path of a file that ends in `.toml`.

    Returns
    -------
    RuleSet
        Complete: the lines of every set it extends are in it.

    Raises
    ------
    RuleError
        There is no such set, its file cannot be read, or a line of it cannot be used. Names the
        file and the rule.
    """
    return _load(_locate(name_or_path, Path(), ""), ())


def _locate(name_or_path: str | Path, folder: Path, where: str) -> Path:
    text = str(name_or_path)
    names = rule_set_names()
    if text.lower() in names:
        return _FOLDER / f"{text.lower()}.toml"
    if text.lower().endswith(".toml") or isinstance(name_or_path, Path):
        return folder / text
    raise RuleError(
        f"{where}{text!r} is not a rule set; {choose_from(text.lower(), names)},"
        " or give the path of a file that ends in .toml."
    )


# Reading a file --------------------------------------------------------------------------------

_SETTINGS = ("layout_tolerance", "neighbour_rows_within", "rivet_length", "shop_head")
_KEYS = ("title", "extends", "remove", "rule", *_SETTINGS, *(f"{key}_source" for key in _SETTINGS))
_SCOPE_KEYS = ("head", "rows", "rivet")
_NEW_RULE_KEYS = ("quantity", "sense", "unit", "verdict")
_RULE_KEYS = ("code", *_NEW_RULE_KEYS, *_SCOPE_KEYS, "limit", "source", "basis", "note")

_Choice = TypeVar("_Choice", bound=str)
_Setting = TypeVar("_Setting")


@dataclass(frozen=True, slots=True)
class _Entry:
    """Keys and values of one table of a file; `where` names it in errors."""

    where: str
    cells: Mapping[str, object]

    def refuse(self, what: str) -> NoReturn:
        raise RuleError(f"{self.where}: {what}.")

    def check_keys(self, known: Iterable[str]) -> None:
        for key in self.cells:
            if key not in known:
                self.refuse(f"the key {key!r} is not known; {choose_from(key, known)}")

    def text(self, key: str, instead: str | None = None) -> str:
        value = self.cells.get(key, instead)
        if not isinstance(value, str) or (not value.strip() and value != instead):
            self.refuse(f"{key} {_shown(value)}; it has to be a text in quotes")
        return " ".join(value.split())

    def texts(self, key: str) -> list[str]:
        value = self.cells.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            self.refuse(f'{key} {_shown(value)}; it has to be a list, as in {key} = ["edge.max"]')
        return value

    def choice(self, key: str, choices: Iterable[_Choice]) -> _Choice:
        text = self.text(key)
        found = next((choice for choice in choices if choice == text), None)
        if found is None:
            self.refuse(f"{key} is {text!r}; {choose_from(text, choices)}")
        return found

    def number(self, key: str, *, least: float | None = None) -> float:
        """Read a number above 0; `least`, 0 in practice, is allowed as well."""
        value = self.cells.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.refuse(f"{key} {_shown(value)}; it has to be a number")
        self._check_range(key, value, least)
        return float(value)

    def length(self, key: str, unit: LengthUnit, *, least: float | None = None) -> float:
        """Read a length [in], a number in `unit` or a text such as "1/64"."""
        value = self.cells.get(key)
        if not isinstance(value, str):
            return unit.to_inches(self.number(key, least=least))
        try:
            inches = parse_length(value, unit)
        except LengthError as error:
            self.refuse(f"{key}: {str(error).rstrip('.')}")
        self._check_range(key, inches, least)
        return inches

    def _check_range(self, key: str, value: float, least: float | None) -> None:
        # written so that NaN is refused; an endless or huge number is larger than the largest
        if not (value > 0 or value == least) or value > LARGEST_LIMIT:
            bound = "above 0" if least is None else f"from {least:g}"
            most = f"to {LARGEST_LIMIT:g}"
            self.refuse(f"{key} {_shown(self.cells[key])}; it has to be a number {bound} {most}")


def _shown(value: object) -> str:
    return "is missing" if value is None else f"is {value!r:.60}"


def _load(path: Path, chain: tuple[Path, ...]) -> RuleSet:
    packaged = path.parent == _FOLDER
    where = path.name if packaged else str(path)
    if path.resolve() in chain:
        names = " → ".join(link.name for link in (*chain, path))
        raise RuleError(f"{where}: a rule set cannot extend itself ({names}). Correct `extends`.")
    entry = _Entry(where, _read_toml(path, where))
    entry.check_keys(_KEYS)
    base = _load_base(entry, path, (*chain, path.resolve()))
    name = path.stem if packaged else path.name
    rules = _read_rules(entry, base, name)
    _check_scopes(rules, entry)
    return RuleSet(
        name,
        entry.text("title", name),
        rules,
        *_setting(entry, base, "layout_tolerance", _read_tolerance),
        *_setting(entry, base, "neighbour_rows_within", _Entry.number),
        *_setting(entry, base, "rivet_length", lambda own, key: own.choice(key, LengthRule)),
        *_setting(entry, base, "shop_head", _read_shop_head),
        (base.name, *base.extends) if base else (),
    )


def _read_toml(path: Path, where: str) -> dict[str, object]:
    try:
        if path.is_file():
            # some editors put a byte order mark in front, which TOML does not allow
            return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise RuleError(f"{where}: cannot be read ({error.strerror}).") from error
    except (ValueError, RecursionError) as error:
        # ValueError covers faulty TOML, bytes that are not UTF-8 and endless digits
        reason = " ".join(str(error).split())
        raise RuleError(f"{where}: is not TOML: {reason}. Correct that place.") from error
    raise RuleError(
        f"{where}: there is no such file. Give the path of a TOML file, or one of the packaged"
        f" rule sets {', '.join(rule_set_names())}."
    )


def _load_base(entry: _Entry, path: Path, chain: tuple[Path, ...]) -> RuleSet | None:
    if "extends" not in entry.cells:
        return None
    where = f"{entry.where}: extends: "
    return _load(_locate(entry.text("extends"), path.parent, where), chain)


def _setting(
    entry: _Entry, base: RuleSet | None, key: str, read: Callable[[_Entry, str], _Setting]
) -> tuple[_Setting, str]:
    """Read a setting and its source; what the file does not state is the base's."""
    if base is not None and key not in entry.cells:
        return getattr(base, key), getattr(base, f"{key}_source")
    if key not in entry.cells:
        entry.refuse(f"{key} is missing; a set that extends no other has to state it")
    return read(entry, key), entry.text(f"{key}_source", f"stated in {entry.where}")


def _read_tolerance(entry: _Entry, key: str) -> float:
    return entry.length(key, LengthUnit.INCH, least=0)


def _read_shop_head(entry: _Entry, key: str) -> ShopHeadLimits:
    return shop_head_limits(entry.choice(key, shop_head_names()))


def _read_rules(entry: _Entry, base: RuleSet | None, origin: str) -> tuple[Rule, ...]:
    rules = {rule.code: rule for rule in base.rules} if base else {}
    for code in entry.texts("remove"):
        if code not in rules:
            entry.refuse(f"remove: there is no rule {code!r}; {choose_from(code, rules)}")
        del rules[code]
    tables = entry.cells.get("rule", [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        entry.refuse("a rule begins with [[rule]], in two pairs of brackets")
    own: set[str] = set()
    for place, cells in enumerate(tables, start=1):
        rule = _read_rule(_Entry(f"{entry.where}, rule {place}", cells), rules, origin)
        if rule.code in own:
            entry.refuse(f"rule {rule.code} stands there twice")
        own.add(rule.code)
        rules[rule.code] = rule
    if not rules:
        entry.refuse("there is no rule in it; extend a set or write a [[rule]]")
    return tuple(rules.values())


def _read_rule(entry: _Entry, known: Mapping[str, Rule], origin: str) -> Rule:
    code = entry.text("code")
    if not re.fullmatch(r"[a-z0-9]+([.-][a-z0-9]+)*", code):
        entry.refuse(f"code is {code!r}; write small letters and digits, parted by . or -")
    entry = replace(entry, where=f"{entry.where} ({code})")
    entry.check_keys(_RULE_KEYS)
    if "source" not in entry.cells:
        entry.refuse("source is missing; a rule has to say where its limit comes from")
    missing = [key for key in _NEW_RULE_KEYS if key not in entry.cells]
    if code in known:
        entry = replace(entry, cells={**_inherited(known[code]), **entry.cells})
    elif missing:
        hint = f"; to override a rule, {choose_from(code, known)}" if known else ""
        entry.refuse(f"{missing[0]} is missing, which a new rule has to state{hint}")
    return _build_rule(entry, code, origin)


def _inherited(rule: Rule) -> dict[str, object]:
    """List what a line that overrides `rule` keeps of it where it states nothing else."""
    cells: dict[str, object] = {key: str(getattr(rule, key)) for key in _NEW_RULE_KEYS}
    for key, part in (("head", rule.head), ("rows", rule.rows)):
        if part is not None:
            cells[key] = str(part)
    if rule.rivet is not None:
        cells["rivet"] = rivet_of_dash(rule.rivet).name
    return cells


def _build_rule(entry: _Entry, code: str, origin: str) -> Rule:
    sense = entry.choice("sense", Sense)
    verdict = entry.choice("verdict", Verdict)
    if verdict not in VERDICTS[sense]:
        allowed = choose_from(verdict, VERDICTS[sense])
        entry.refuse(f"verdict is {verdict.value!r}; for sense {sense.value!r} {allowed}")
    limit, unit = _limit(entry)
    return Rule(
        code,
        entry.choice("quantity", QUANTITIES),
        sense,
        limit,
        unit,
        verdict,
        entry.text("source"),
        _basis(entry),
        origin,
        entry.choice("head", Head) if "head" in entry.cells else None,
        entry.choice("rows", Rows) if "rows" in entry.cells else None,
        _rivet(entry),
        entry.text("note", ""),
    )


def _limit(entry: _Entry) -> tuple[float, LimitUnit]:
    unit, lengths = entry.text("unit"), [str(length) for length in LengthUnit]
    if unit in lengths:
        return entry.length("limit", LengthUnit(unit)), LimitUnit.INCHES
    if unit != LimitUnit.SHANKS:
        entry.refuse(f"unit is {unit!r}; {choose_from(unit, [LimitUnit.SHANKS, *lengths])}")
    return entry.number("limit"), LimitUnit.SHANKS


def _basis(entry: _Entry) -> str:
    basis, known = entry.text("basis", OWN_BASIS), (*BASES, OWN_BASIS)
    if basis not in known:
        entry.refuse(f"basis is {basis!r}; {choose_from(basis, known)}")
    return basis


def _rivet(entry: _Entry) -> int | None:
    if "rivet" not in entry.cells:
        return None
    try:
        return rivet_size(entry.text("rivet")).dash
    except TableError as error:
        entry.refuse(f"rivet: {str(error).rstrip('.')}")


def _check_scopes(rules: tuple[Rule, ...], entry: _Entry) -> None:
    """Refuse two rules for the same case: which of them counts would be a guess."""
    seen: dict[tuple[object, ...], Rule] = {}
    for rule in rules:
        case = (rule.quantity, rule.sense, *rule.scope)
        if case in seen:
            entry.refuse(
                f"rules {seen[case].code} and {rule.code} are for the same case; give the second"
                " the code of the first to override it, or remove one of them"
            )
        seen[case] = rule
