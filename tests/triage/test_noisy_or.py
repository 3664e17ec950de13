"""One finding by noisy-OR, and the two conventions for the numbers on its links."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.oracles.strategies import steady
from triage.errors import ParameterError
from triage.noisy_or import compound_from_net, finding_probability, net_from_compound

# Russell and Norvig, Artificial Intelligence: A Modern Approach, the noisy-OR example with
# inhibitions cold 0.6, flu 0.2, malaria 0.1 (inputs from memory, products by arithmetic)
FEVER = {"cold": 0.4, "flu": 0.8, "malaria": 0.9}
FEVER_TABLE: dict[tuple[str, ...], float] = {
    (): 0.0,
    ("malaria",): 0.9,
    ("flu",): 0.8,
    ("flu", "malaria"): 0.98,
    ("cold",): 0.4,
    ("cold", "malaria"): 0.94,
    ("cold", "flu"): 0.88,
    ("cold", "flu", "malaria"): 0.988,
}

probabilities = st.floats(0.0, 1.0)
tables = st.dictionaries(st.sampled_from("abcde"), probabilities)


@pytest.mark.parametrize("present", FEVER_TABLE, ids="+".join)
def test_the_fever_table_comes_out(present: tuple[str, ...]) -> None:
    """Every row of the published example."""
    got = finding_probability(present, strength=FEVER, leak=0.0)

    assert got == pytest.approx(FEVER_TABLE[present], abs=1e-15)


def test_the_fever_table_has_all_its_rows() -> None:
    """Eight combinations of three causes."""
    combinations = itertools.chain(*(itertools.combinations(sorted(FEVER), n) for n in range(4)))
    assert set(FEVER_TABLE) == set(combinations)


@pytest.mark.parametrize(
    ("present", "net", "compound"),
    [("", 0.10, 0.10), ("a", 0.82, 0.80), ("b", 0.55, 0.50), ("ab", 0.91, 0.888889)],
)
def test_the_two_leak_conventions_give_their_own_numbers(
    present: str, net: float, compound: float
) -> None:
    """Leak 0.1, numbers 0.8 and 0.5 on the links: read as net and as compound.

    Values: pyAgrum 3.3.1, addNoisyORNet and addNoisyORCompound, to six digits.
    """
    numbers = {"a": 0.8, "b": 0.5}

    as_net = finding_probability(present, strength=numbers, leak=0.1)
    as_compound = finding_probability(present, strength=net_from_compound(numbers, 0.1), leak=0.1)

    assert as_net == pytest.approx(net, abs=1e-15)
    assert as_compound == pytest.approx(compound, abs=5e-7)


@steady
@given(strength=tables, leak=st.floats(0.0, 0.99))
def test_net_to_compound_and_back_is_the_same_table(
    strength: dict[str, float], leak: float
) -> None:
    """1e-12 absolute: the leak is subtracted from a sum that rounded, then divided by 0.01."""
    back = net_from_compound(compound_from_net(strength, leak), leak)

    assert back == pytest.approx(strength, rel=0.0, abs=1e-12)


@steady
@given(shares=tables, leak=st.floats(0.0, 0.99))
def test_compound_to_net_and_back_is_the_same_table(shares: dict[str, float], leak: float) -> None:
    """The other way round, for every compound parameter that is legal with this leak."""
    compound = {key: min(leak + (1.0 - leak) * share, 1.0) for key, share in shares.items()}

    back = compound_from_net(net_from_compound(compound, leak), leak)

    assert back == pytest.approx(compound, rel=0.0, abs=1e-12)


@steady
@given(strength=tables, leak=probabilities, present=st.sets(st.sampled_from("abcdexyz")))
def test_the_probability_lies_between_the_leak_and_one(
    strength: dict[str, float], leak: float, present: str
) -> None:
    """And equals the textbook formula, which cancels only for tiny results."""
    got = finding_probability(present, strength=strength, leak=leak)

    off = 1.0 - leak
    for cause in present & strength.keys():
        off *= 1.0 - strength[cause]
    assert leak <= got <= 1.0
    assert got == pytest.approx(1.0 - off, rel=0.0, abs=1e-14)


@steady
@given(strength=tables, leak=probabilities, raised=st.sampled_from("abcde"), to=probabilities)
def test_raising_a_strength_never_lowers_the_probability(
    strength: dict[str, float], leak: float, raised: str, to: float
) -> None:
    """A stronger link cannot make the finding less likely (up to one rounding)."""
    more = {**strength, raised: max(to, strength.get(raised, 0.0))}

    before = finding_probability(set("abcde"), strength=strength, leak=leak)
    after = finding_probability(set("abcde"), strength=more, leak=leak)

    assert after >= before - 4e-16


def test_a_tiny_leak_keeps_its_digits() -> None:
    """1 - (1 - 1e-12) would be off in the fifth digit."""
    got = finding_probability({"a"}, strength={"a": 1e-13}, leak=1e-12)

    assert got == pytest.approx(1.1e-12, rel=1e-12)


def test_a_link_that_is_not_present_changes_nothing() -> None:
    """An absent cause, a cause without a link, a strength of zero: the leak alone."""
    strength = {"a": 0.9, "b": 0.0}

    assert finding_probability({"b", "stranger"}, strength=strength, leak=0.2) == 0.2


@pytest.mark.parametrize("value", [-0.1, 1.3, float("nan")])
def test_a_strength_outside_zero_to_one_is_refused_by_name(value: float) -> None:
    """The message says which link, even when its cause is not present."""
    with pytest.raises(ParameterError, match=r"link strength of 'a' is .*, outside \[0, 1\]"):
        finding_probability((), strength={"a": value}, leak=0.1)


@pytest.mark.parametrize("leak", [-0.1, 1.3, float("nan")])
def test_a_leak_outside_zero_to_one_is_refused(leak: float) -> None:
    """Whichever function it is given to."""
    with pytest.raises(ParameterError, match=r"leak is .*, outside \[0, 1\]"):
        finding_probability((), strength={}, leak=leak)
    with pytest.raises(ParameterError, match=r"leak is .*, outside \[0, 1\)"):
        net_from_compound({}, leak)


def test_a_compound_parameter_below_the_leak_is_refused() -> None:
    """It would need a negative strength: a present cause that prevents the finding."""
    with pytest.raises(
        ParameterError, match=r"compound parameter of 'flu' is 0.05, outside \[0.1, 1\]"
    ):
        net_from_compound({"flu": 0.05}, leak=0.1)


def test_with_a_leak_of_one_no_strength_can_be_recovered() -> None:
    """Every strength has the same compound parameter then."""
    assert compound_from_net({"a": 0.3}, leak=1.0) == {"a": 1.0}
    with pytest.raises(ParameterError, match=r"leak is 1.0, outside \[0, 1\)"):
        net_from_compound({"a": 1.0}, leak=1.0)
