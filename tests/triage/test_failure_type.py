"""Failure types: the list is from memory, so only its shape can be checked."""

from __future__ import annotations

import pytest

from triage.errors import ParameterError
from triage.failure_type import BASIS, CATEGORIES, MEANINGS, category, category_name, meaning


def test_the_category_is_the_high_nibble_of_every_byte() -> None:
    """Written in hexadecimal, the first digit is the category: no arithmetic shared."""
    for byte in range(256):
        assert f"{category(byte):X}" == f"{byte:02X}"[0]


def test_ten_categories_have_a_name_and_the_others_say_so() -> None:
    """SAE J2012, from memory: 0 to 9 are assigned."""
    names = [category_name(high << 4) for high in range(16)]

    assert names[:10] == list(CATEGORIES)
    assert set(names[10:]) == {"not assigned"}
    assert names[6] == "algorithm based"


def test_every_meaning_stands_in_an_assigned_category() -> None:
    """A slip of the pen in the table would land elsewhere."""
    assert len(MEANINGS) > 50
    assert all(category(byte) < 10 and text for byte, text in MEANINGS.items())
    assert len(set(MEANINGS.values())) == len(MEANINGS)


def test_electrical_meanings_speak_of_the_circuit() -> None:
    """Category 1 is electrical: each of its meanings names the circuit (common practice)."""
    electrical = [text for byte, text in MEANINGS.items() if category(byte) == 1]

    assert len(electrical) == 12
    assert all("circuit" in text for text in electrical)


def test_an_unknown_byte_has_no_meaning_rather_than_a_guess() -> None:
    """What we don't know is not filled in; the table says where it comes from."""
    assert meaning(0xFE) is None
    assert "from memory" in BASIS


@pytest.mark.parametrize("byte", [-1, 256])
def test_a_failure_type_outside_a_byte_is_refused(byte: int) -> None:
    """Also when only its meaning is asked."""
    with pytest.raises(ParameterError, match=f"failure type is {byte}, outside 0 to 255"):
        meaning(byte)
