"""The schemas of the machine output at work: what they share is found by its name."""

from functools import cache
from typing import Any

from jsonschema import Draft202012Validator
from referencing import Registry, Resource

from cfgaudit.reports.schema import COMMON, schema


@cache
def validator(name: str) -> Any:
    """The validator of one command's output, by the schemas that ship with the package alone."""
    shared = schema(COMMON)
    registry: Registry[Any] = Registry().with_resource(
        shared["$id"], Resource.from_contents(shared)
    )
    return Draft202012Validator(schema(name), registry=registry)


def validate(said: object, name: str) -> None:
    """See that an output is as its schema says."""
    validator(name).validate(said)
