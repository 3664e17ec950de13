"""Two layouts of one range: both meanings stand until somebody says which car it is."""

from __future__ import annotations

import pytest

from triage.errors import CodeFormatError, UnknownTermError
from triage.layouts import Resolution, resolve_layout

#: The collision the trade knows (common practice, no source): C0035 in the two layouts.
C0035 = (("dtc-wss-lf", "earlier"), ("dtc-wss-supply-rf", "current"))


def test_an_unknown_layout_keeps_both_meanings_and_asks() -> None:
    """Left front signal or right front supply: the wheel is never guessed."""
    assert resolve_layout(C0035, "unknown") == Resolution(("dtc-wss-lf", "dtc-wss-supply-rf"), True)


@pytest.mark.parametrize(("name", "layout"), C0035, ids=["earlier", "current"])
def test_a_known_layout_keeps_its_own_meaning_and_asks_nothing(name: str, layout: str) -> None:
    """Saying the layout settles it."""
    assert resolve_layout(C0035, layout) == Resolution((name,), ask=False)


def test_a_chosen_meaning_wins_over_an_unknown_layout() -> None:
    """The technician reads the description off the scan tool and picks it."""
    assert resolve_layout(C0035, "unknown", chosen="dtc-wss-lf").kept == ("dtc-wss-lf",)


def test_a_meaning_of_both_layouts_stands_in_each() -> None:
    """Codes outside the reworked range mean the same in both."""
    for layout in ("current", "earlier", "unknown"):
        kept = resolve_layout([("dtc-vss-a", "both")], layout)
        assert kept == Resolution(("dtc-vss-a",), ask=False)


def test_one_meaning_listed_under_both_layouts_is_no_collision() -> None:
    """The same id twice is one meaning."""
    pairs = [("dtc-sas-old", "earlier"), ("dtc-sas-old", "current")]

    assert resolve_layout(pairs, "unknown") == Resolution(("dtc-sas-old",), ask=False)


def test_a_layout_without_a_meaning_keeps_none_and_asks() -> None:
    """The other layout's meaning is not slipped in; the layout may be stated wrongly."""
    assert resolve_layout([("dtc-wss-compare", "earlier")], "current") == Resolution((), ask=True)


def test_a_code_without_any_meaning_asks_nothing() -> None:
    """A maker's code has no meaning here; no question can give it one."""
    assert resolve_layout([], "unknown") == Resolution((), ask=False)


def test_a_chosen_meaning_that_the_code_cannot_have_is_refused() -> None:
    """The nearest one is named."""
    with pytest.raises(UnknownTermError, match=r"'dtc-wss-rf'.*did you mean"):
        resolve_layout(C0035, "unknown", chosen="dtc-wss-rf")


@pytest.mark.parametrize(
    ("pairs", "layout"), [(C0035, "new"), ((("dtc-wss-lf", "old"),), "unknown")]
)
def test_a_layout_that_nobody_defined_is_refused(
    pairs: tuple[tuple[str, str], ...], layout: str
) -> None:
    """A typing mistake must not count as unknown."""
    with pytest.raises(CodeFormatError, match=r"layout '(new|old)' in .*allowed: current, earlier"):
        resolve_layout(pairs, layout)
