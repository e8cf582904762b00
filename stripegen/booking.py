"""A cut result counted off the vinyl in hand: what it used goes, what is left over worth keeping comes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from stripegen.errors import Fault, JobError, Where, WriteError
from stripegen.leftovers import plain_length, rest_to_keep_mm, rounded_down
from stripegen.nearmiss import did_you_mean
from stripegen.stockspec import SAME_MM, Booked, Entry, InHand, parse_stock
from stripegen.stocktext import StockText, listed, quoted
from stripegen.tables import show
from stripegen.taken import SheetTaken, Taken, Used

_ROUNDING_MM = 0.05  # what is told of a roll is rounded down to a tenth


@dataclass(frozen=True, slots=True)
class Booking:
    """What is in hand once some sheets of a result are cut, and how that is told, a line a change.

    `after` has what there was before in the same order, used up or not, then what is new.
    """

    before: InHand
    after: InHand
    lines: tuple[str, ...]


def book(stock: InHand, taken: Taken, sheets: Collection[str] | None = None) -> Booking:
    """Count a result's sheets off, those of these names alone, if they are given.

    Raises JobError where the stock lacks what a sheet was cut of, or where a name is no sheet's.
    """
    names = [sheet.name for sheet in taken.sheets]
    unknown = [name for name in dict.fromkeys(sheets or ()) if name not in names]
    if unknown:
        where, right = Where(taken.file, ""), "it has no sheet of this name"
        raise JobError(*(Fault(where, "--only", show(name), right + did_you_mean(name, names)) for name in unknown))
    chosen = [sheet for sheet in taken.sheets if sheets is None or sheet.name in sheets]
    counting = _Counting(stock, taken)
    for sheet in chosen:
        counting.take(sheet)
    if counting.faults:
        raise JobError(*counting.faults)
    whole = len(chosen) == len(taken.sheets)
    booked = Booked(taken.name, taken.sha256, None if whole else tuple(sheet.name for sheet in chosen))
    return Booking(stock, counting.after(booked), tuple(counting.lines()))


class _Counting:
    """What is in hand as sheets are counted off one after the other."""

    def __init__(self, stock: InHand, taken: Taken):
        self.stock, self.taken = stock, taken
        self.rolls = list(stock.rolls)
        self.sheets = list(stock.sheets)
        self.offcuts = list(stock.offcuts)
        self.gone: Counter[int] = Counter()  # how many of each entry of offcuts
        self.rests: dict[int, list[Entry]] = {}  # of the offcuts of an entry, what is kept
        self.new: list[Entry] = []
        self.dropped: list[str] = []
        self.faults: list[Fault] = []

    def take(self, sheet: SheetTaken) -> None:
        for used in sheet.used:
            if not sheet.is_new:
                self._take_offcut(sheet, used)
            elif used.length_mm is None:
                self._take_roll(sheet, used)
            else:
                self._take_sheet(sheet, used)

    def _fault(self, sheet: SheetTaken, right: str) -> None:
        self.faults.append(Fault(Where(self.taken.file, sheet.name), "", "", right))

    def _take_roll(self, sheet: SheetTaken, used: Used) -> None:
        for n, roll in enumerate(self.rolls):
            if roll.vinyl != sheet.vinyl:
                continue
            if used.used_mm > roll.length_mm + _ROUNDING_MM:
                self._fault(
                    sheet,
                    f"it takes {used.used_mm:.1f} mm of {sheet.vinyl}, and {self.stock.file} says that {roll.length_mm:g} mm "
                    "are left: put length_left right there",
                )
            self.rolls[n] = replace(roll, length_mm=max(0.0, rounded_down(roll.length_mm - used.used_mm)))

    def _take_sheet(self, sheet: SheetTaken, used: Used) -> None:
        width_mm, own_mm = sheet.own_size_mm
        is_own = own_mm is not None and abs(used.width_mm - width_mm) + abs(used.length_mm - own_mm) < SAME_MM
        for n, entry in enumerate(self.sheets):
            fits = is_own if entry.width_mm is None else entry.is_of_size(used.width_mm, used.length_mm)
            if entry.vinyl == sheet.vinyl and fits:
                if not entry.quantity:
                    self._fault(
                        sheet,
                        f"it takes a new sheet of {sheet.vinyl} {_size(used)}, and {self.stock.file} says that none is "
                        "left: put quantity right there",
                    )
                self.sheets[n] = replace(entry, quantity=max(0, entry.quantity - 1))
                break
        self.new += self._rest(sheet, used, "")

    def _take_offcut(self, sheet: SheetTaken, used: Used) -> None:
        alike = [
            n
            for n, entry in enumerate(self.stock.offcuts)
            if entry.vinyl == sheet.vinyl and entry.is_of_size(used.width_mm, used.length_mm) and entry.quantity > self.gone[n]
        ]
        if not alike:
            self._fault(
                sheet,
                f"it is cut of an offcut of {sheet.vinyl} {_size(used)}, and {self.stock.file} has none of that size: put it "
                "there, book first what left it over, or leave this sheet out",
            )
            return
        n = next((n for n in alike if self.stock.offcuts[n].shelf == used.shelf), alike[0])
        self.gone[n] += 1
        entry = self.stock.offcuts[n]
        whole = replace(used, width_mm=entry.width_mm, length_mm=entry.length_mm)
        self.rests.setdefault(n, []).extend(self._rest(sheet, whole, entry.shelf))

    def _rest(self, sheet: SheetTaken, used: Used, shelf: str) -> list[Entry]:
        """What is kept of a sheet or an offcut, its whole width past the used length; nothing, and told, if it is little."""
        rest_mm = rest_to_keep_mm(used.length_mm, used.used_mm, sheet.margin_mm)
        if not rest_mm:
            over_mm = used.length_mm - used.used_mm
            if over_mm >= 0.1:
                self.dropped.append(
                    f"{sheet.vinyl}: of {sheet.name} {used.width_mm:g} x {over_mm:.1f} mm are over, too short to keep"
                )
            return []
        left_of = f"{sheet.name} ({self.taken.name})"
        return [Entry(vinyl=sheet.vinyl, width_mm=used.width_mm, length_mm=rest_mm, shelf=shelf, left_of=left_of)]

    def after(self, booked: Booked) -> InHand:
        """What is in hand then. Of a single offcut the rest takes its place; any other is new."""
        offcuts, new = list(self.offcuts), []
        for n, count in sorted(self.gone.items()):
            rests = self.rests[n]
            if offcuts[n].quantity == count == len(rests) == 1:
                offcuts[n] = replace(offcuts[n], length_mm=rests[0].length_mm)
            else:
                offcuts[n] = replace(offcuts[n], quantity=offcuts[n].quantity - count)
                new += rests
        return replace(
            self.stock,
            rolls=tuple(self.rolls),
            sheets=tuple(self.sheets),
            offcuts=(*offcuts, *new, *self.new),
            booked=(*self.stock.booked, booked),
        )

    def lines(self) -> list[str]:
        told = [
            f"{old.vinyl}: {old.length_mm:g} mm of the roll, then {new.length_mm:g} mm"
            for old, new in zip(self.stock.rolls, self.rolls, strict=True)
            if old.length_mm != new.length_mm
        ]
        told += [
            f"{old.vinyl}: {old.quantity} new sheet{'' if old.quantity == 1 else 's'}{_of_size(old)}, then {new.quantity}"
            for old, new in zip(self.stock.sheets, self.sheets, strict=True)
            if old.quantity != new.quantity
        ]
        for n, count in sorted(self.gone.items()):
            old = self.stock.offcuts[n]
            many = f"{old.quantity} offcuts" if old.quantity > 1 else "an offcut"
            told.append(f"{old.vinyl}: {many}{_of_size(old)}{_on(old)}, then {old.quantity - count or 'none'}")
        rests = [rest for n in sorted(self.rests) for rest in self.rests[n]]
        told += [
            f"{rest.vinyl}: a new offcut{_of_size(rest)}{_on(rest)}, left of {rest.left_of}" for rest in (*rests, *self.new)
        ]
        return told + self.dropped


def _size(used: Used) -> str:
    return f"{used.width_mm:g} x {used.length_mm:g} mm"


def _of_size(entry: Entry) -> str:
    return "" if entry.width_mm is None else f" of {entry.width_mm:g} x {entry.length_mm:g} mm"


def _on(entry: Entry) -> str:
    return f" ({entry.shelf})" if entry.shelf else ""


def booked_text(text: str, booking: Booking) -> str:
    """The stock file's text as it is once this is booked; all else in it stays as it was.

    An offcut that is used up is taken out, unless a comment stands by it: then its quantity is 0. Raises JobError where a
    table is written in a way in which it can't be changed, WriteError if what comes out is not what was meant.
    """
    before, after = booking.before, booking.after
    edited = StockText(text, before.file)
    edited.check({"roll": len(before.rolls), "sheet": len(before.sheets), "offcut": len(before.offcuts)})
    for n, (old, new) in enumerate(zip(before.rolls, after.rolls, strict=True)):
        if old != new:
            edited.set("roll", n, "length_left", _length(new.length_mm, before.units))
    for n, (old, new) in enumerate(zip(before.sheets, after.sheets, strict=True)):
        if old != new:
            edited.set("sheet", n, "quantity", str(new.quantity))
    for n, (old, new) in enumerate(zip(before.offcuts, after.offcuts, strict=False)):
        if old.length_mm != new.length_mm:
            edited.set("offcut", n, "length", _length(new.length_mm, before.units))
        if old.quantity != new.quantity and not new.quantity and not edited.has_comment("offcut", n):
            edited.remove("offcut", n)
        elif old.quantity != new.quantity:
            edited.set("offcut", n, "quantity", str(new.quantity))
    for entry in after.offcuts[len(before.offcuts) :]:
        edited.add("offcut", _pairs(entry, before.units))
    booked = after.booked[-1]
    pairs = [("result", quoted(booked.result)), ("manifest", quoted(booked.manifest))]
    edited.add("booked", pairs if booked.sheets is None else [*pairs, ("sheets", listed(booked.sheets))])
    made = edited.edited()
    _prove(made, after)
    return made


def _pairs(entry: Entry, units: str) -> list[tuple[str, str]]:
    pairs = [
        ("vinyl", quoted(entry.vinyl)),
        ("width", _length(entry.width_mm, units)),
        ("length", _length(entry.length_mm, units)),
        ("left_of", quoted(entry.left_of)),
    ]
    return [*pairs, ("shelf", quoted(entry.shelf))] if entry.shelf else pairs


def _length(length_mm: float, units: str) -> str:
    return plain_length(length_mm) if units == "mm" else f'"{plain_length(length_mm)} mm"'


def _prove(text: str, meant: InHand) -> None:
    """That a text says what was meant, offcuts that are used up left aside."""
    try:
        found = parse_stock(text, meant.file)
    except JobError as error:
        found = str(error)
    if isinstance(found, str) or _plain(found) != _plain(meant):
        raise WriteError(f"{meant.file}: it is written in a way in which it can't be changed safely; it is as it was")


def _plain(stock: InHand) -> tuple:
    return stock.units, stock.rolls, stock.sheets, Counter(each for each in stock.offcuts if each.quantity), stock.booked


def unbooked(stock: InHand, taken: Taken) -> Sequence[str]:
    """The sheets of a result that are not counted off yet."""
    return [sheet.name for sheet in taken.sheets if not stock.is_booked(taken.sha256, sheet.name)]
