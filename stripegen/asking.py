"""The questions that make a first job: each answer checked at once, told what would be right, and asked again.

Options are answers that were given beforehand. Where no one can be asked, what is wrong or missing is gathered as faults.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from stripegen.errors import Fault, JobError, StripegenError, Where
from stripegen.jobfile import COMMAND_LINE, QUANTITY_MOST, split_vinyl_options
from stripegen.nearmiss import did_you_mean
from stripegen.newjob import FIGURES, OWN_CUP, Answers, cup_fault, figure_mm, roles_of
from stripegen.presets import Preset
from stripegen.shelf import FindPreset
from stripegen.tables import NAME_MEANING, is_name, show

Ask = Callable[[str, str | None], str]
Say = Callable[[str], None]

HOW_TO_MEASURE = r"""
  rim   \---------------------/   ---+-------+-------
         \                   /       | a     |
  tape    \=================/     ---+---+   |        a  down to the upper girth
           \               /             |   |        b  down to the lower girth
            \             /              | b | wall      (from the rim, as a is)
             \           /               |   |
  tape        \=========/         -------+   |        Both girths and the wall are
               \       /                     |        read on the outside, along the
  base          \_____/           -----------+-----   bare cup.

Lay the tape snugly round the cup where it lies level, near the rim and near the base: the farther apart, the surer.
Mark each place, and read how far down the wall it is, the tape laid straight down the outside from the rim. A tape
touches a tapered wall with its edge on the wider side: mark that edge."""

MEASURE = "measure"
MEASURED = {
    "upper_down": "How far down from the rim is the upper girth taken (a)",
    "upper_girth": "What does the tape read round the cup there",
    "lower_down": "How far down from the rim is the lower girth taken (b)",
    "lower_girth": "What does the tape read round the cup there",
    "wall": "How long is the wall, rim to base along the outside",
}
COATED = {
    "resin": "How thick is the resin on the wall already, when the strips go on",
    "rim_clearance": "How much stays bare at the rim",
    "base_clearance": "How much stays bare at the base",
}
GIRTHS = tuple(key for key in MEASURED if key != "wall")
_TWICE = 'must be given twice as DOWN:GIRTH, such as "14:268", the upper one first'
_UNITS = (("mm", "millimetres"), ("cm", "centimetres"), ("in", "inches and fractions, such as 10 9/16"))
_COATED_USUALLY = {"mm": ("0", "12", "6"), "cm": ("0", "1.2", "0.6"), "in": ("0", "1/2", "1/4")}
_PATTERN = "seam-stripes"
_VINYLS = ("matt-black", "brushed-gold")
_ID = "A-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What was said beforehand, as it was written; `takes_defaults`: what was not is not asked where it can be guessed."""

    units: str | None = None
    girths: Sequence[str] = ()
    figures: Mapping[str, str] = field(default_factory=dict)
    cup: str | None = None
    pattern: str | None = None
    vinyls: Sequence[str] = ()
    id: str | None = None
    quantity: str | None = None
    takes_defaults: bool = False


def ask_job(
    options: Options,
    presets: Sequence[Preset],
    find_preset: FindPreset,
    prove: Callable[[Answers], None],
    ask: Ask | None,
    say: Say,
) -> Answers:
    """All that a first job says.

    Parameters
    ----------
    presets, find_preset : what can be chosen, and how its text is found
    prove : raises a StripegenError if a job of these answers would go wrong
    ask : (question, what Enter stands for) -> what was typed; None: no one can be asked
    say : shows a text

    Raises
    ------
    StripegenError    with every fault of the options, or what `prove` found, where no one can be asked
    """
    dialogue = _Dialogue(options, presets, find_preset, ask, say)
    dialogue.units()
    dialogue.cup()
    dialogue.order()
    while True:
        answers = dialogue.answers()
        try:
            prove(answers)
        except StripegenError as error:
            if ask is None:
                raise
            say(f"\nThat does not go together:\n{error}")
            dialogue.change()
        else:
            return answers


class _Dialogue:
    def __init__(
        self,
        options: Options,
        presets: Sequence[Preset],
        find_preset: FindPreset,
        ask: Ask | None,
        say: Say,
    ):
        self._takes_defaults = options.takes_defaults
        self._presets = presets
        self._find_preset = find_preset
        self._ask = ask
        self._say = say
        self._faults: list[Fault] = []
        self._given: dict[str, str] = {}  # options that were not looked at yet
        self._said: dict[str, str] = {}  # sound answers
        self._roles: list[str] = []
        self._take(options)

    def _take(self, options: Options) -> None:
        given = {key: getattr(options, key) for key in ("units", "cup", "pattern", "id", "quantity")}
        given |= options.figures
        if options.girths:
            pairs = [text.partition(":") for text in options.girths]
            if len(pairs) == 2 and all(mark for _, mark, _ in pairs):
                given |= dict(zip(GIRTHS, (part for pair in pairs for part in pair[::2]), strict=True))
            else:
                self._refuse("--girth", " and ".join(map(show, options.girths)), _TWICE)
        self._given = {key: text for key, text in given.items() if text is not None}
        self._bound: str | dict[str, str] = {}
        try:
            self._bound = split_vinyl_options(options.vinyls) if options.vinyls else {}
        except ValueError as error:
            self._refuse("--vinyl", "", str(error))
        if options.girths or options.figures:
            self._given.setdefault("cup", MEASURE)

    def answers(self) -> Answers:
        if self._faults:
            raise JobError(*dict.fromkeys(self._faults))
        said = self._said
        is_measured = said["cup"] == MEASURE
        return Answers(
            units=said["units"],
            cup=OWN_CUP if is_measured else said["cup"],
            figures={key: said[key] for key in FIGURES} if is_measured else None,
            pattern=said["pattern"],
            vinyls={role: said[f"vinyl {role}"] for role in self._roles},
            id=said["id"],
            quantity=int(said["quantity"]),
        )

    def change(self) -> None:
        """Ask again what may be to blame; Enter keeps what was said."""
        parts = [("order", "the pattern, its vinyls, how many"), ("cup", "the cup and its measures")]
        self._said.pop("change", None)
        if self._choice("change", "What would you change", parts, "order") == "cup":
            self.cup()
        else:
            self.order()

    def units(self) -> None:
        self._choice("units", "What does your tape read", _UNITS, "mm", may_lack=True)

    def cup(self) -> None:
        """A preset's name, or the figures of a cup."""
        if not self._ask and "cup" not in self._given:
            self._refuse("--girth", "", 'is missing: "14:268", twice, with --wall; or --cup NAME in their place')
            return
        cups = [(MEASURE, "your own, with a tape"), *self._named("cup")]
        if self._choice("cup", "Which cup", cups, MEASURE) == MEASURE:
            self._measure()

    def _measure(self) -> None:
        if self._ask and not self._given.keys() >= MEASURED.keys():
            self._say(HOW_TO_MEASURE)
        sound = self._figures(GIRTHS, GIRTHS, GIRTHS, "--girth")
        sound = self._figures(["wall"], [*MEASURED], [*MEASURED] if sound else [], "--wall")
        if self._ask and not self._given.keys() >= COATED.keys():
            self._say("\nNow what is on the wall, and what stays bare.")
        self._figures([*COATED], [*COATED], [*FIGURES] if sound else [], "--base-clearance")

    def _figures(self, first: Sequence[str], again: Sequence[str], known: Sequence[str], option: str) -> bool:
        """Ask the `first` figures, then `again` as long as those that are `known` do not go together; tell if they do."""
        asked = first
        while True:
            for key in asked:
                self._figure(key)
            figures = {key: self._said[key] for key in known if key in self._said}
            if not known or len(figures) < len(known):  # one was at fault, and no one can be asked
                return False
            fault = cup_fault(figures, self._said["units"])
            if fault is None:
                return True
            self._refuse(option, "", fault)
            if not self._ask:
                return False
            self._say("  One of these is a slip. Enter keeps what stands in brackets.")
            asked = again

    def _figure(self, key: str) -> None:
        units = self._said["units"]

        def check(text: str) -> str:
            length_mm = figure_mm(key, text, units)
            upper = self._said.get("upper_down")
            if key == "lower_down" and upper and length_mm <= figure_mm("upper_down", upper, units):
                raise ValueError(f"must be farther down than the upper girth, which is at {upper}")
            return text

        usual = dict(zip(COATED, _COATED_USUALLY[units], strict=True)).get(key)
        prompt = {**MEASURED, **COATED}[key]
        option = "--girth" if key in GIRTHS else f"--{key.replace('_', '-')}"
        self._answer(key, f"{prompt}, {units}", check, usual, option=option, may_lack=True)

    def order(self) -> None:
        """What goes on the cup, and how many."""
        if self._choice("pattern", "Which pattern", self._named("pattern"), _PATTERN, self._pattern):
            self._vinyls()
        elif not self._bound and not self._takes_defaults:
            self._refuse("--vinyl", "", "is missing")
        self._answer("id", "The order's id", _id, _ID)
        self._answer("quantity", "How many cups", _quantity, "1", may_lack=True)

    def _pattern(self, name: str) -> str:
        self._roles = roles_of(name, self._find_preset)  # a preset at fault is a ValueError too
        return name

    def _vinyls(self) -> None:
        bound, self._bound = self._bound, {}
        pattern = self._said["pattern"]
        if isinstance(bound, str):
            bound = dict.fromkeys(self._roles, bound)
        for role in (role for role in bound if role not in self._roles):
            roles = f"whose roles are {', '.join(self._roles)}" if self._roles else "which has none"
            right = f'must bind a role of the pattern "{pattern}", {roles}{did_you_mean(role, self._roles)}'
            self._refuse("--vinyl", show(role), right)
        self._given |= {f"vinyl {role}": name for role, name in bound.items() if role in self._roles}
        vinyls = self._named("vinyl")
        names = [name for name, _ in vinyls]
        usual = [name for name in _VINYLS if name in names] + [name for name in names if name not in _VINYLS]
        for number, role in enumerate(self._roles):
            self._choice(
                f"vinyl {role}",
                f'Which vinyl is "{role}" in this pattern',
                vinyls if number == 0 else [],
                usual[number % len(usual)],
                option="--vinyl",
                lacks=f'is missing for the role "{role}": {role}=NAME, or one NAME for every role',
                names=names,
            )

    def _named(self, kind: str) -> list[tuple[str, str]]:
        return [(preset.name, preset.about) for preset in self._presets if preset.kind == kind]

    def _choice(
        self,
        key: str,
        prompt: str,
        listed: Sequence[tuple[str, str]],
        default: str,
        check: Callable[[str], str] = str,
        *,
        names: Sequence[str] | None = None,
        **more,
    ) -> str | None:
        """One of several, by its name or its number in the list."""
        names = [name for name, _ in listed] if names is None else names

        def chosen(text: str) -> str:
            if text not in names and text.isascii() and text.isdigit() and 1 <= int(text) <= len(names):
                text = names[int(text) - 1]
            if text not in names:
                told = ", ".join(names) if len(names) <= 4 else "one of the list"
                raise ValueError(f"must be {told}{did_you_mean(text, names)}")
            return check(text)

        width = max((len(name) for name, _ in listed), default=0)
        rows = (f"{n:4}  {name:{width}}  {about}".rstrip() for n, (name, about) in enumerate(listed, start=1))
        shown = "\n".join(["", *rows]) if listed else ""
        return self._answer(key, f"{prompt}, by name or number", chosen, default, shown=shown, **more)

    def _answer(
        self,
        key: str,
        prompt: str,
        check: Callable[[str], str],
        default: str | None,
        *,
        option: str = "",
        may_lack: bool = False,
        lacks: str = "is missing",
        shown: str = "",
    ) -> str | None:
        """A sound answer, or None after a fault where no one can be asked.

        Parameters
        ----------
        check : gives the answer as it is kept; raises ValueError with what would be right
        may_lack : whether a job file may leave it out, so that it is not missed where no one can be asked
        shown : told before the question
        """
        option = option or f"--{key}"
        if key in self._given:
            text = self._given.pop(key).strip()
            try:
                self._said[key] = check(text)
                return self._said[key]
            except ValueError as error:
                self._refuse(option, show(text), str(error))
        elif not self._ask:
            if default is not None and (may_lack or self._takes_defaults):
                self._said[key] = check(default)
                return self._said[key]
            if not any(fault.key == option and fault.read for fault in self._faults):
                self._refuse(option, "", lacks)
        if not self._ask:
            return None
        if shown:
            self._say(shown)
        while True:
            text = self._ask(prompt, self._said.get(key, default)).strip()
            try:
                self._said[key] = check(text)
                return self._said[key]
            except ValueError as error:
                self._refuse("", show(text), str(error))

    def _refuse(self, option: str, read: str, right: str) -> None:
        """Say what is wrong, or keep it as a fault where no one can be asked."""
        if not self._ask:
            self._faults.append(Fault(Where(COMMAND_LINE, ""), option, read, right))
            return
        told = f"read {read}; {right}" if read else right
        self._say(f"  {option}: {told}" if option and read else f"  {told}")


def _id(text: str) -> str:
    if not is_name(text):
        raise ValueError(f"must be {NAME_MEANING}")
    return text


def _quantity(text: str) -> str:
    if not (text.isascii() and text.isdigit() and len(text) < 10 and 1 <= int(text) <= QUANTITY_MOST):
        raise ValueError(f"must be a whole number from 1 to {QUANTITY_MOST}")
    return text
