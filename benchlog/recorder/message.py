"""The roots of every message that crosses the pipe between a recorder and its client."""

import msgspec


class Message(msgspec.Struct, tag_field="is", frozen=True, kw_only=True, omit_defaults=True):
    """The root of all messages."""


class Request(Message, frozen=True, kw_only=True):
    """The root of requests; `id` is unique within one client."""

    id: int
