"""Noisy-OR: how likely a finding is when it is known which causes are present.

A finding stays absent only if its leak is silent and every present cause fails
to bring it about [1]_::

    P(absent | present causes) = (1 - leak) * prod(1 - strength[c] for c present)

Two conventions for the numbers on the links are in use, and tables of them do
not say which. ``strength[c]``, the *net* parameter [2]_, is the chance that c
alone brings the finding about while the leak is off. The *compound* parameter
[3]_ is the chance that the finding is there when c is the only modelled cause
present, leak included::

    compound = leak + (1 - leak) * strength
    strength = (compound - leak) / (1 - leak)

Everything in this package is net; a table of the other kind is converted by
`net_from_compound` before it enters.

References
----------
(from memory; pages not checked)

.. [1] Pearl, J. (1988). Probabilistic Reasoning in Intelligent Systems.
       Morgan Kaufmann, section 4.3.
.. [2] Diez, F. J. (1993). Parameter adjustment in Bayes networks: the
       generalized noisy OR-gate. UAI-93.
.. [3] Henrion, M. (1989). Some practical issues in constructing belief
       networks. Uncertainty in Artificial Intelligence 3.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from triage.errors import ParameterError

__all__ = ["compound_from_net", "finding_probability", "net_from_compound"]


def finding_probability(
    present: Collection[str], *, strength: Mapping[str, float], leak: float
) -> float:
    """Return P(finding present) when exactly the causes in `present` are there.

    Parameters
    ----------
    present : collection of cause ids
        Every other cause is absent. An id without a strength has no link and
        changes nothing; an id given twice counts once.
    strength : mapping from cause id to probability in [0, 1]
        Net link strengths.
    leak : probability in [0, 1]
        P(finding present | no modelled cause present).

    Returns
    -------
    float
        Probability in [leak, 1].

    Raises
    ------
    ParameterError
        If the leak or any strength lies outside [0, 1].

    Notes
    -----
    P(present) is built up by addition, ``on + off * strength``, instead of as
    ``1 - off``: a leak of 1e-12 keeps all of its digits.

    Examples
    --------
    Two causes that each bring the finding about half the time, without leak:

    >>> finding_probability({"a", "b"}, strength={"a": 0.5, "b": 0.5}, leak=0.0)
    0.75
    >>> finding_probability({"no-link"}, strength={"a": 0.5}, leak=1e-12)
    1e-12
    """
    _check_all("link strength", strength)
    _check("leak", leak)
    on, off = leak, 1.0 - leak
    for cause, value in strength.items():
        if cause in present:
            on, off = on + off * value, off * (1.0 - value)
    return min(on, 1.0)  # the sum may round to the double above one


def net_from_compound(compound: Mapping[str, float], leak: float) -> dict[str, float]:
    """Return the net strengths that stand behind compound parameters.

    Parameters
    ----------
    compound : mapping from cause id to probability in [leak, 1]
        P(finding present | this cause is the only one present), leak included.
    leak : probability in [0, 1)
        With a leak of 1 every strength gives the same compound parameter, so
        none can be recovered.

    Returns
    -------
    dict from cause id to probability in [0, 1]
        In the order of `compound`.

    Raises
    ------
    ParameterError
        If the leak lies outside [0, 1) or a parameter outside [leak, 1]: a
        cause that is present never makes a noisy-OR finding less likely.

    Examples
    --------
    >>> net_from_compound({"flu": 0.82, "cold": 0.1}, leak=0.1)
    {'flu': 0.7999999999999999, 'cold': 0.0}
    """
    if not 0.0 <= leak < 1.0:
        raise ParameterError("leak", leak, allowed="[0, 1)")
    _check_all("compound parameter", compound, low=leak)
    return {cause: (value - leak) / (1.0 - leak) for cause, value in compound.items()}


def compound_from_net(strength: Mapping[str, float], leak: float) -> dict[str, float]:
    """Return the compound parameters that stand for net strengths and a leak.

    Parameters
    ----------
    strength : mapping from cause id to probability in [0, 1]
        Net link strengths.
    leak : probability in [0, 1]

    Returns
    -------
    dict from cause id to probability in [leak, 1]
        In the order of `strength`.

    Raises
    ------
    ParameterError
        If the leak or a strength lies outside [0, 1].

    Examples
    --------
    >>> compound_from_net({"flu": 0.5}, leak=0.25)
    {'flu': 0.625}
    """
    return {
        cause: finding_probability({cause}, strength={cause: value}, leak=leak)
        for cause, value in strength.items()
    }


def _check_all(what: str, values: Mapping[str, float], *, low: float = 0.0) -> None:
    """Refuse the first value that lies outside [low, 1]."""
    for cause, value in values.items():
        _check(what, value, where=repr(cause), low=low)


def _check(what: str, value: float, *, where: str = "", low: float = 0.0) -> None:
    """Refuse a value outside [low, 1]; not-a-number lies outside."""
    if not low <= value <= 1.0:
        raise ParameterError(what, value, allowed=f"[{low:g}, 1]", where=where)
