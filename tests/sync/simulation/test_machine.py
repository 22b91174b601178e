"""The same world driven by hypothesis, which looks for a short history that breaks it.

LINTEL_SIMULATION_EXAMPLES says how many histories; phones with the browser's code get a tenth of them.
"""

import os
import random

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule, run_state_machine_as_test

from tests.sync.simulation.browser_phone import browsers
from tests.sync.simulation.checks import check
from tests.sync.simulation.line import REPLY_FAULTS, REQUEST_FAULTS
from tests.sync.simulation.phone import WINDOWS
from tests.sync.simulation.quiet import quieten
from tests.sync.simulation.situations import SITUATIONS
from tests.sync.simulation.world import SKEWS, World

EXAMPLES = int(os.environ.get("LINTEL_SIMULATION_EXAMPLES", "200"))
phones, few, places = st.integers(0, 4), st.integers(0, 7), st.integers(0, 100_000)
clients, who, either = st.integers(0, 3), st.integers(0, 2), st.booleans()
windows = st.integers(0, WINDOWS - 1)


class House(RuleBasedStateMachine):
    """Rules are the acts of the world; at the rule `quiet` and at the end everything is checked."""

    def __init__(self, makes=None) -> None:
        super().__init__()
        self.world = World(makes=makes)

    @rule(phone=phones, client=clients)
    def note(self, phone, client):
        self.world.note(self.world.phones[phone], client)

    @rule(phone=phones, client=clients, field=st.integers(0, 2), value=st.integers(0, 3))
    def detail(self, phone, client, field, value):
        self.world.detail(self.world.phones[phone], client, field, value)

    @rule(phone=phones, number=few)
    def settle(self, phone, number):
        self.world.settle(self.world.phones[phone], number)

    @rule(phone=phones, number=few, void=either)
    def correct(self, phone, number, void):
        self.world.correct(self.world.phones[phone], number, void)

    @rule(phone=phones, number=few)
    def twin(self, phone, number):
        self.world.twin(self.world.phones[phone], number)

    @rule(phone=phones, most=st.sampled_from((1, 3, 200)), send_held=either, window=windows)
    def ask(self, phone, most, send_held, window):
        self.world.ask(self.world.phones[phone], most, send_held, window)

    @rule(phone=phones, number=few, forged=either)
    def stray(self, phone, number, forged):
        asking = self.world.phones[phone]
        home = self.world.home(asking.person)
        others = [own for own in self.world.people if self.world.home(own) != home]
        self.world.stray(asking, others[number % len(others)], forged)

    @precondition(lambda self: self.world.line)
    @rule(number=few, fault=st.sampled_from(REQUEST_FAULTS), at=places)
    def deliver(self, number, fault, at):
        self.world.deliver(number, fault, at)

    @precondition(lambda self: self.world.back)
    @rule(number=few, fault=st.sampled_from(REPLY_FAULTS), at=places)
    def hear(self, number, fault, at):
        self.world.hear(number, fault, at)

    @rule(phone=phones)
    def exchange(self, phone):
        """A good line for once: asked, delivered and heard."""
        self.world.ask(self.world.phones[phone])
        self.world.deliver(-1)
        self.world.hear(-1)

    @rule(phone=phones, name=st.sampled_from(list(SITUATIONS)), seed=few)
    def situation(self, phone, name, seed):
        SITUATIONS[name](self.world, random.Random(seed), self.world.phones[phone])

    @rule(phone=phones, steps=few)
    def power_fails(self, phone, steps):
        self.world.power_fails(self.world.phones[phone], steps)

    @rule(phone=phones)
    def restart(self, phone):
        self.world.restart(self.world.phones[phone])

    @rule(phone=phones, window=windows)
    def give_up(self, phone, window):
        self.world.give_up(self.world.phones[phone], window)

    @rule(phone=phones)
    def wipe(self, phone):
        self.world.wipe(self.world.phones[phone])

    @rule(signs_in=either)
    def hand_over(self, signs_in):
        self.world.hand_over(self.world.phones[2], signs_in)

    @rule(phone=phones, expired=either)
    def session(self, phone, expired):
        if expired:
            self.world.service.expire(self.world.phones[phone].cookie)
        else:
            self.world.sign_in(self.world.phones[phone])

    @rule(phone=phones, skew=st.integers(0, len(SKEWS) - 1))
    def clock(self, phone, skew):
        self.world.set_clock(self.world.phones[phone], skew)

    @rule(person=who, client=clients, on=either)
    def caseload(self, person, client, on):
        (self.world.assign if on else self.world.end)(person, client)

    @rule(person=who, active=either)
    def account(self, person, active):
        self.world.set_active(person, active)

    @rule(phone=phones, revoked=either)
    def withdraw(self, phone, revoked):
        self.world.revoke(self.world.phones[phone], revoked)

    @rule(phone=phones)
    def copy(self, phone):
        self.world.copy(self.world.phones[phone])

    @precondition(lambda self: self.world.copies)
    @rule(phone=phones, clone=either)
    def put_back(self, phone, clone):
        if clone:
            self.world.put_back(self.world.phones[0], self.world.phones[3])
        else:
            self.world.put_back(self.world.phones[phone], self.world.phones[phone])

    @rule()
    def back_up(self):
        self.world.back_up()

    @precondition(lambda self: self.world.service.copies)
    @rule(number=few)
    def restore(self, number):
        self.world.restore(number)

    @precondition(lambda self: self.world.saved)
    @rule()
    def quiet(self):
        quieten(self.world)
        check(self.world)

    def teardown(self) -> None:
        quieten(self.world)
        check(self.world)


def settings_for(examples: int) -> settings:
    """As many histories, the same ones each time."""
    return settings(
        max_examples=examples,
        stateful_step_count=50,
        deadline=None,
        database=None,
        derandomize=True,
        suppress_health_check=[HealthCheck.too_slow],
    )


TestHouse = House.TestCase
TestHouse.settings = settings_for(EXAMPLES)


def test_a_house_with_browsers(host):
    run_state_machine_as_test(
        lambda: House(browsers(host, "a", "shared")), settings=settings_for(max(1, EXAMPLES // 10))
    )
