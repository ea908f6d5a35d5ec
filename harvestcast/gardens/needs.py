"""Say plainly where the extra ``scale`` is not installed."""

from __future__ import annotations

from importlib import import_module
from types import ModuleType

from harvestcast.errors import HarvestcastError


def needed(name: str) -> ModuleType:
    """Return a module of the extra ``scale``.

    Parameters
    ----------
    name : str
        Dotted name of the module.

    Raises
    ------
    HarvestcastError
        Where it is not installed; the message says how to install it.

    Examples
    --------
    >>> needed("json").dumps(1)
    '1'
    """
    try:
        return import_module(name)
    except ImportError as error:
        raise HarvestcastError(
            f"Many gardens need the extra 'scale' ({name.split('.')[0]} is missing). "
            "Install it with: pip install 'harvestcast[scale]'"
        ) from error
