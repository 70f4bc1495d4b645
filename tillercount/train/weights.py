"""Starting a network from the weights of another."""

from __future__ import annotations

from collections.abc import Mapping

from torch import Tensor, nn

from tillercount.errors import InputError

__all__ = ["start_from"]


def start_from(network: nn.Module, given: Mapping[str, Tensor], source: str) -> None:
    """Load weights; a layer that has gained outputs keeps what it had, the new ones are drawn.

    Raises
    ------
    InputError
        A layer doesn't fit; ``source`` says whose.
    """
    state = network.state_dict()
    for name, value in given.items():
        own = state[name]
        if own.shape[1:] != value.shape[1:] or len(own) < len(value):
            raise InputError(f"{source}: {name} is {tuple(value.shape)}, not {tuple(own.shape)}")
        own[: len(value)] = value.to(own)
    network.load_state_dict(state)
