"""JSON log lines with constant event names; tokens, PINs and link paths never reach them."""

import json
import logging
import re
from contextvars import ContextVar
from datetime import UTC, datetime

request_id: ContextVar[str] = ContextVar("request_id", default="")

# A link's path is the key to a customer's hire, an operator's dockets or a cart's gate, so the log keeps its shape only.
SECRET_PATHS = re.compile(r"(/(?:h|o|g|join)/)[A-Za-z0-9_-]{8,}")
SECRET_PAIRS = re.compile(
    r"(?i)\b(pin|token|code|password|csrfmiddlewaretoken|sessionid|slake-hire-[0-9a-f]{32})=[^&\s\"']+"
)


def scrub(text: str) -> str:
    """The text with link paths and secret pairs replaced by what they were."""
    return SECRET_PAIRS.sub(r"\1=[hidden]", SECRET_PATHS.sub(r"\1[hidden]", text))


def scrubbed(value: object) -> object:
    """A fact with every text in it scrubbed. Before it is JSON: scrubbing the line itself would eat its backslashes."""
    if isinstance(value, str):
        return scrub(value)
    if isinstance(value, dict):
        return {name: scrubbed(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [scrubbed(item) for item in value]
    return value if isinstance(value, bool | int | float | None) else scrub(str(value))


class ScrubFilter(logging.Filter):
    def filter(self, record: logging.LogRecord) -> bool:
        record.msg = scrub(record.getMessage())
        record.args = None
        return True


class JsonFormatter(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, tz=UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
            "event": scrub(record.getMessage()),
        }
        if request_id.get():
            line["request_id"] = request_id.get()
        facts = getattr(record, "facts", None)
        if isinstance(facts, dict):
            line["facts"] = scrubbed(facts)
        if record.exc_info:
            line["trace"] = scrub(self.formatException(record.exc_info))
        return json.dumps(line, ensure_ascii=False)
