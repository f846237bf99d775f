"""Settings kept under names."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

T = TypeVar("T")


def fresh_name(name: str, taken: Iterable[str]) -> str:
    """A name for a variant, if it is one.

    Parameters
    ----------
    name : str
        As typed.
    taken : iterable of str
        Names of the variants kept so far.

    Returns
    -------
    name : str
        Without blanks at its ends.

    Raises
    ------
    ValueError
        If the name is blank or taken.
    """
    name = name.strip()
    if not name:
        raise ValueError("a variant needs a name")
    if name in taken:
        raise ValueError(f'there is a variant "{name}" already; choose another name')
    return name


@dataclass(frozen=True, slots=True, kw_only=True)
class Variants(Generic[T]):
    """Settings of one kind, kept in the order in which they were.

    Attributes
    ----------
    kept : tuple of (str, T)
        Name and setting of each.
    """

    kept: tuple[tuple[str, T], ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names in order."""
        return tuple(name for name, _ in self.kept)

    def keep(self, name: str, setting: T) -> "Variants[T]":
        """With one more.

        Parameters
        ----------
        name : str
            Not blank, and not taken yet.
        setting : T
            What is kept.

        Returns
        -------
        variants : Variants
            Those before it, and the new one last.

        Raises
        ------
        ValueError
            If the name is blank or taken.
        """
        return replace(self, kept=(*self.kept, (fresh_name(name, self.names), setting)))

    def of(self, name: str) -> T:
        """One by its name.

        Parameters
        ----------
        name : str
            Of the variant.

        Returns
        -------
        setting : T
            As kept.

        Raises
        ------
        ValueError
            If there is none of that name.
        """
        for each, setting in self.kept:
            if each == name:
                return setting
        raise ValueError(f'no variant "{name}" is kept')
