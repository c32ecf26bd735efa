"""Passages of a case side by side: what their Newton steps need and find, one lane of a vector for each."""

from __future__ import annotations

from pulsewright.kernel.layout import LANES
from pulsewright.kernel.passage import Side, newton_step, settled_flow
from pulsewright.physics.compiled import kernel, scalar


@scalar
def put_in_lane(k, n, up, down, area, most, x, y):
    """Take down what `newton_step` asks for in lane n. Of the gas downstream it asks for less: every store counts."""
    put_side(k, 0, n, up)
    put_side(k, 1, n, down)
    k.work[n], k.h[n] = up.work, up.h
    k.open_area[n], k.most[n], k.q_up[n], k.q_down[n] = area, most, x, y


@scalar
def put_side(k, row, n, side):
    k.area[row, n], k.p[row, n], k.u[row, n] = side.area, side.p, side.u
    k.sound[row, n], k.gamma[row, n], k.push[row, n] = side.sound, side.gamma, side.push


@scalar
def in_lane(k, n):
    """What `put_in_lane` has taken down."""
    up = Side(k.area[0, n], k.p[0, n], k.u[0, n], k.sound[0, n], k.gamma[0, n], k.work[n], k.h[n], k.push[0, n])
    down = Side(k.area[1, n], k.p[1, n], k.u[1, n], k.sound[1, n], k.gamma[1, n], 0.0, 0.0, k.push[1, n])
    return up, down, k.open_area[n], k.most[n], k.q_up[n], k.q_down[n]


@scalar
def put_found(k, n, found):
    """What `newton_step` returns for lane n."""
    flow, p_up, u_up, p_down, u_down, h0, x, y, settled = found
    k.flow[n], k.p_up[n], k.u_up[n], k.p_down[n], k.u_down[n], k.h0[n] = flow, p_up, u_up, p_down, u_down, h0
    k.q_up[n], k.q_down[n], k.settled[n] = x, y, 1.0 if settled else 0.0


@scalar
def found_in_lane(k, n):
    """What `put_found` has taken down."""
    return (
        k.flow[n], k.p_up[n], k.u_up[n], k.p_down[n], k.u_down[n], k.h0[n], k.q_up[n], k.q_down[n], k.settled[n] > 0.5,
    )  # fmt: skip


@kernel
def newton_steps(k):
    """The first Newton step of the passages in all lanes."""
    for n in range(LANES):
        put_found(k, n, newton_step(*in_lane(k, n)))


@kernel
def newton_steps_of_half(k):
    """The same in the first half of the lanes. Neither a loop of unknown length nor a shared body vectorises."""
    for n in range(LANES // 2):
        put_found(k, n, newton_step(*in_lane(k, n)))


@kernel
def settle_lane(k, n):
    """More Newton steps for the passage in lane n."""
    put_found(k, n, settled_flow(*in_lane(k, n)))
