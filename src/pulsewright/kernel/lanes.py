"""Passages of a case side by side: what their Newton steps need and find, one lane of a vector for each."""

from __future__ import annotations

from pulsewright.kernel.layout import LANES
from pulsewright.kernel.passage import Side, newton_step, settled_flow
from pulsewright.physics.compiled import kernel, scalar


@scalar
def put_in_lane(k, row, n, side):
    """Take down one side of a passage in lane n: row 0 up, row 1 down its way."""
    k.is_duct[row, n] = 1.0 if side.is_duct else 0.0
    k.area[row, n], k.p[row, n], k.u[row, n], k.sound[row, n] = side.area, side.p, side.u, side.sound
    k.gamma[row, n], k.work[row, n], k.h[row, n] = side.gamma, side.work, side.h
    k.push[row, n], k.lag[row, n] = side.push, side.lag


@scalar
def side_in_lane(k, row, n):
    """What `put_in_lane` has taken down."""
    return Side(
        k.is_duct[row, n] > 0.5, k.area[row, n], k.p[row, n], k.u[row, n], k.sound[row, n], k.gamma[row, n],
        k.work[row, n], k.h[row, n], k.push[row, n], k.lag[row, n],
    )  # fmt: skip


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
        up, down = side_in_lane(k, 0, n), side_in_lane(k, 1, n)
        put_found(k, n, newton_step(up, down, k.open_area[n], k.most[n], k.q_up[n], k.q_down[n]))


@kernel
def newton_steps_of_half(k):
    """The same in the first half of the lanes. Neither a loop of unknown length nor a shared body vectorises."""
    for n in range(LANES // 2):
        up, down = side_in_lane(k, 0, n), side_in_lane(k, 1, n)
        put_found(k, n, newton_step(up, down, k.open_area[n], k.most[n], k.q_up[n], k.q_down[n]))


@kernel
def settle_lane(k, n):
    """More Newton steps for the passage in lane n."""
    up, down = side_in_lane(k, 0, n), side_in_lane(k, 1, n)
    put_found(k, n, settled_flow(up, down, k.open_area[n], k.most[n], k.q_up[n], k.q_down[n]))
