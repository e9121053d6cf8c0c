"""What the description of the API says, asked of a running station by schemathesis, operation by
operation, as often as wanted and always the same for a seed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from schemathesis import GenerationMode
from schemathesis.config import SchemathesisConfig
from schemathesis.core.failures import FailureGroup

from tests.fuzz.fuzz_http import LEFT_OUT, RULES
from tests.fuzz.world import World


def asked(world: World, examples: int, known: Callable[[Any], None], chosen: int = 1) -> list[str]:
    """Ask for each operation so often within its bounds, and beyond; what was wrong.

    ``known``  puts names of what is there into a case. Where each is asked for once only, every
    third is asked for beyond its bounds: another seed takes the others.
    """
    config = SchemathesisConfig.from_dict(RULES)
    schema = schemathesis.openapi.from_url(f"{world.address}/api/openapi.json", config=config)
    wrong: list[str] = []
    for n, found in enumerate(schema.get_all_operations()):
        operation = found.ok()
        if operation.label in LEFT_OUT:
            continue
        beyond = examples > 1 or (n + chosen) % 3 == 0
        for mode in (GenerationMode.POSITIVE, *[GenerationMode.NEGATIVE] * beyond):

            @seed(chosen)
            @settings(
                max_examples=examples,
                phases=[Phase.generate],
                database=None,
                deadline=None,
                suppress_health_check=list(HealthCheck),
            )
            @given(case=operation.as_strategy(generation_mode=mode))
            def one(case: Any) -> None:
                if mode is GenerationMode.POSITIVE:  # noqa: B023
                    known(case)
                case.call_and_validate(timeout=20)

            try:
                one()
            except FailureGroup as group:
                wrong += [f"{operation.label}: {one}" for one in group.exceptions]
            except Exception as error:  # noqa: BLE001 - whatever it is, it is told
                if "Cannot generate" not in str(error) and "Unsatisfiable" not in repr(error):
                    wrong.append(f"{operation.label}: {error!r}")
    return wrong
