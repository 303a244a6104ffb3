"""Which renders belong to a trial, whether they show what its files say, and which are laid live.

A folder may hold the renders of several sheets, of one sheet as it was some time ago, and of one
run in several forms. Those of other trials are passed over, old ones are laid and told of, and of
a run's transparent renders one is shown: two of them live over each other would darken the
picture twice.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from overlay.exchange.renders import Found, Rendered, TransparentRender, find_renders
from overlay.ledger import LEDGER_END
from overlay.render.upright import upright_of
from overlay.report.words import one_line
from overlay.trial import Material
from overlay.workflow.clip_facts import units_told
from overlay.workflow.hashes import log_hashes
from overlay.workflow.outputs import ledger_of, output_path
from overlay.workflow.reel_fresh import sheet_hashes
from sync.errors import TrialReelError
from sync.media import Footage, probe

MOST_NAMED = 6
"""Renders that one remark names."""

FORMS = (".mov", "", ".webm")
"""ProRes before pictures, for it is one file, and both before VP9, which loses some of them."""

Size = tuple[int, int]
AnyRender = Rendered | TransparentRender


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnRenders:
    """The renders of a trial, those of them that are out of date or in other units than the
    sheet's, and what was said of them."""

    found: Found
    stale: frozenset[str]
    foreign: frozenset[str]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chosen:
    """Transparent renders: one of each run, the others, and what is said of them."""

    live: tuple[TransparentRender, ...]
    spare: tuple[TransparentRender, ...]
    remarks: tuple[str, ...]


def own_renders(material: Material, sheet: bytes) -> OwnRenders:
    """What lies in a trial's folders and is its own.

    Parameters
    ----------
    sheet
        The bytes of the sheet as it was read.
    """
    found = find_renders(_ledgers(material))
    told: dict[str, list[str]] = defaultdict(list)
    clips = tuple(one for one in found.clips if _is_own(one, material, told))
    transparent = tuple(one for one in found.transparent if _is_own(one, material, told))
    remarks = [*found.passed_over, *(f"{why}: {_named(stems)}" for why, stems in told.items())]
    old: dict[str, list[str]] = defaultdict(list)
    now = log_hashes(material)
    renders: list[AnyRender] = [*clips, *transparent]
    for one in renders:
        why = _stale_because(one.ledger.facts, now, sheet_hashes(sheet))
        if why is not None:
            old[why].append(one.stem)
    remarks += [f"{why}: {_named(stems)}" for why, stems in old.items()]
    return OwnRenders(
        found=Found(clips=clips, transparent=transparent, passed_over=()),
        stale=frozenset(stem for stems in old.values() for stem in stems),
        foreign=frozenset(
            one.stem
            for one in renders
            if units_told(one.ledger.facts, material) != material.sheet.units
        ),
        remarks=tuple(remarks),
    )


def _ledgers(material: Material) -> Iterator[Path]:
    """The ledgers beside the sheet's clips, wherever these go, and below the folder `clips`."""
    yield from (material.folder / "clips").rglob(f"*{LEDGER_END}")
    for clip in material.sheet.clips:
        try:
            ledger = ledger_of(material.folder / output_path(clip, material))
        except TrialReelError:
            continue  # `render` says what is wrong with it
        if ledger.is_file() and not ledger.is_relative_to((material.folder / "clips").resolve()):
            yield ledger


def _is_own(render: AnyRender, material: Material, told: dict[str, list[str]]) -> bool:
    """Whether a render is of a trial; where it is not, it is told why."""
    why = _of_another(render.ledger.facts, material)
    if why is not None:
        told[why].append(render.stem)
    return why is None


def _of_another(facts: Mapping[str, Any], material: Material) -> str | None:
    """Whose render it is by its ledger, if not this trial's."""
    own = {"sheet": material.sheet_path.name, "trial": material.sheet.name}
    for key, mine in own.items():
        theirs = facts.get(key, mine)
        if theirs != mine:
            return f"passed over, being of the {key} {one_line(str(theirs))[:80]!r}"
    return None


def _stale_because(
    facts: Mapping[str, Any], now: Mapping[str, str], sheets: set[str]
) -> str | None:
    """What makes one doubt that a render shows what the sheet and the logs say."""
    made_from = facts.get("inputs")
    if not isinstance(made_from, dict):
        return "it is not known from which sheet and logs these were made"
    logs = {key for key in (*now, *made_from) if str(key).startswith("log:")}
    changed = [f"the log {key[4:]}" for key in sorted(logs) if made_from.get(key) != now.get(key)]
    if made_from.get("sheet") not in sheets:
        changed.insert(0, "the sheet")
    if not changed:
        return None
    return f"made before {' and '.join(changed)} changed, and best made again"


def one_a_run(own: OwnRenders, recordings: Iterable[Footage], rate_hz: Fraction) -> Chosen:
    """Choose which transparent render of each run is shown.

    One that is up to date comes first, then one in the sheet's units, then one of the size of most
    recordings, then one that has the sequence's rate, then the form.
    """
    wanted = _usual_size(recordings)
    runs: dict[str, list[tuple[tuple[Any, ...], TransparentRender]]] = defaultdict(list)
    remarks: list[str] = []
    for one in own.found.transparent:
        try:
            size = _size_of(one)
        except (TrialReelError, OSError, ValueError, SyntaxError) as error:
            remarks.append(f"{one.stem} is passed over: {one_line(str(error)).rstrip('.')}")
            continue
        form = FORMS.index("" if one.pictures else one.path.suffix)
        doubts = (one.stem in own.stale, one.stem in own.foreign)
        rank = (*doubts, size != wanted, one.rate_hz != rate_hz, form, one.stem)
        runs[one.run].append((rank, one))
    ordered = [[one for _, one in sorted(run, key=lambda pair: pair[0])] for run in runs.values()]
    spare = tuple(one for run in ordered for one in run[1:])
    if spare:
        remarks.append(
            "of each run one transparent render is shown; other forms of it are there as disabled "
            f"clips: {_named([one.stem for one in spare])}"
        )
    return Chosen(live=tuple(run[0] for run in ordered), spare=spare, remarks=tuple(remarks))


def _usual_size(recordings: Iterable[Footage]) -> Size | None:
    """The upright size that most recordings have, the first of them where several are as common."""
    sizes: Counter[Size] = Counter()
    for film in recordings:
        try:
            sizes[upright_of(film).pair(film.width, film.height)] += 1
        except TrialReelError:
            continue  # `render` says what is wrong with it
    return sizes.most_common(1)[0][0] if sizes else None


def _size_of(render: TransparentRender) -> Size:
    """Width and height of a transparent render, by its film or its first picture."""
    if render.pictures is None:
        film = probe(render.path)
        return film.width, film.height
    from PIL import Image

    row = render.pictures
    with Image.open(render.path / f"{row.prefix}{row.first:0{row.digits}d}.png") as picture:
        width, height = picture.size
    return width, height


def _named(stems: Sequence[str]) -> str:
    """Some names, and how many more there are."""
    more = len(stems) - MOST_NAMED
    return ", ".join(stems[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
