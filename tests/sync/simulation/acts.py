"""Seeded runs: acts drawn by weight with quiet points in between, or every situation in turn."""

import random
from collections.abc import Callable

from tests.sync.simulation.checks import check
from tests.sync.simulation.line import REPLY_FAULTS, REQUEST_FAULTS
from tests.sync.simulation.phone import Phone
from tests.sync.simulation.quiet import quieten
from tests.sync.simulation.situations import SITUATIONS
from tests.sync.simulation.world import SKEWS, World

Act = Callable[[World, random.Random, Phone], None]


def _deliver(world: World, chance: random.Random, _phone: Phone) -> None:
    dies = "the server dies"
    fault = "arrives" if chance.random() < 0.6 else chance.choice((*REQUEST_FAULTS, dies, "one overlooked"))
    world.deliver(chance.randrange(8), fault, chance.randrange(1_000_000))


def _hear(world: World, chance: random.Random, _phone: Phone) -> None:
    short = "a verdict short"
    faults = (*REPLY_FAULTS, "the power fails", short, short)
    fault = "arrives" if chance.random() < 0.5 else chance.choice(faults)
    world.hear(chance.randrange(8), fault, chance.randrange(1_000_000))


def _stray(world: World, chance: random.Random, phone: Phone) -> None:
    others = [own for own in world.people if world.home(own) != world.home(phone.person)]
    if chance.random() < 0.3:
        world.revoke(phone, True)
    world.stray(phone, chance.choice(others), chance.random() < 0.6)


def _power_fails(world: World, chance: random.Random, phone: Phone) -> None:
    """At any step from here on, or while something is recorded or an answer is heard that very moment."""
    world.power_fails(phone, chance.randrange(9) if chance.random() < 0.4 else chance.randrange(3))
    world.note(phone, chance.randrange(3))
    world.exchange(phone)


def _situation(world: World, chance: random.Random, phone: Phone) -> None:
    chance.choice([*SITUATIONS.values()])(world, chance, phone)


def _window(chance: random.Random) -> int:
    return int(chance.random() < 0.3)


def _exchange(world: World, chance: random.Random, phone: Phone) -> None:
    faults = [*REQUEST_FAULTS, *REPLY_FAULTS, "the power fails", "a verdict short", "arrives", "arrives"]
    fault, at = chance.choice(faults), chance.randrange(1_000_000)
    there, back = (fault, "arrives") if fault in REQUEST_FAULTS else ("arrives", fault)
    world.exchange(phone, _window(chance), there, back, at)


ACTS: dict[str, tuple[float, Act]] = {
    "note": (6, lambda world, chance, phone: world.note(phone, chance.choice((0, 0, 0, 1, 1, 1, 2, 3)))),
    "detail": (4, lambda world, chance, phone: world.detail(
        phone, chance.randrange(3), chance.randrange(3), chance.randrange(5))),
    "settle": (1, lambda world, chance, phone: world.settle(phone, chance.randrange(3))),
    "amend": (2, lambda world, chance, phone: world.correct(phone, chance.randrange(6), False)),
    "void": (1, lambda world, chance, phone: world.correct(phone, chance.randrange(6), True)),
    "twin": (1.2, lambda world, chance, phone: world.twin(phone, chance.randrange(99))),
    "ask": (8, lambda world, chance, phone: world.ask(
        phone, chance.choice((1, 3, 200, 200)), chance.random() < 0.2, _window(chance))),
    "deliver": (8, _deliver),
    "hear": (8, _hear),
    "stray": (1, _stray),
    "exchange": (8, _exchange),
    "situation": (2.5, _situation),
    "server dies": (0.5, SITUATIONS["the server dies over a push"]),
    "give up": (3, lambda world, chance, phone: world.give_up(phone, _window(chance))),
    "power fails": (1.5, _power_fails),
    "restart": (0.5, lambda world, chance, phone: world.restart(phone)),
    "wipe": (0.4, lambda world, chance, phone: world.wipe(phone)),
    "hand over": (1.5, lambda world, chance, phone: world.hand_over(world.phones[2], chance.random() < 0.4)),
    "sign in": (2, lambda world, chance, phone: world.sign_in(phone)),
    "expire": (0.6, lambda world, chance, phone: world.service.expire(phone.cookie)),
    "clock": (0.5, lambda world, chance, phone: world.set_clock(
        phone, chance.choice((0, 0, 0, *range(len(SKEWS)))))),
    "time": (0.5, lambda world, chance, phone: world.pass_time(chance.choice((60, 3600, 90_000)))),
    "assign": (0.8, lambda world, chance, phone: world.assign(chance.randrange(3), chance.randrange(4))),
    "end": (0.6, lambda world, chance, phone: world.end(chance.randrange(3), chance.randrange(4))),
    "close": (0.1, lambda world, chance, phone: world.set_active(chance.randrange(3), False)),
    "open": (0.4, lambda world, chance, phone: world.set_active(chance.randrange(3), True)),
    "revoke": (0.3, lambda world, chance, phone: world.revoke(phone, True)),
    "allow": (0.6, lambda world, chance, phone: world.revoke(phone, False)),
    "phone's copy": (0.5, lambda world, chance, phone: world.copy(phone)),
    "put back": (0.2, lambda world, chance, phone: world.put_back(phone, phone)),
    "clone": (0.12, lambda world, chance, phone: world.put_back(world.phones[0], world.phones[3])),
    "back up": (0.4, lambda world, chance, phone: world.back_up()),
    "restore": (0.3, lambda world, chance, phone: world.restore(chance.randrange(3))),
}  # fmt: skip
NAMES = list(ACTS)
WEIGHTS = [weight for weight, _act in ACTS.values()]


def run(world: World, seed: int, steps: int, quiet_every: int = 100) -> World:
    """A run; AssertionError as soon as something does not hold at a quiet point."""
    chance = random.Random(seed)
    for step in range(1, steps + 1):
        name = chance.choices(NAMES, WEIGHTS)[0]
        ACTS[name][1](world, chance, chance.choice(world.phones))
        if step % quiet_every == 0 or step == steps:
            quieten(world)
            check(world)
    return world


def tour(world: World, seed: int, *names: str) -> World:
    """Every situation once, in an order of chance, each on one of these phones (all, unless named)."""
    chance = random.Random(seed)
    phones = [phone for phone in world.phones if not names or phone.name in names]
    for number, situation in enumerate(chance.sample([*SITUATIONS.values()], len(SITUATIONS))):
        situation(world, chance, chance.choice(phones))
        if number % 2:
            name = chance.choices(NAMES, WEIGHTS)[0]
            ACTS[name][1](world, chance, chance.choice(world.phones))
            quieten(world)
            check(world)
    return world
