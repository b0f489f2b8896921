"""Read XML that may be hostile: no entities of its own, nothing fetched, no endless depth."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from img2pour.errors import SettingsError
from img2pour.units import quoted

LARGEST_XML_BYTES = 100_000_000
MOST_ELEMENTS = 500_000
DEEPEST = 200
WORDY = {"style", "text", "tspan", "textPath", "a"}
"""Elements of which the words count."""


@dataclass
class Element:
    """An element: its name without namespace, attributes, children, its text and what follows.

    `text` is what stands before its first child, `tail` what stands after it in its parent.
    """

    name: str
    attributes: dict[str, str]
    children: list[Element] = field(default_factory=list)
    text: str = ""
    tail: str = ""

    def walk(self) -> Iterator[Element]:
        """Yield this element and all below it."""
        todo = [self]
        while todo:
            element = todo.pop()
            yield element
            todo.extend(reversed(element.children))


class _Builder:
    """Collects elements as the parser meets them, and refuses what a drawing never needs."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.root: Element | None = None
        self.open: list[Element] = []
        self.count = 0

    def refuse(self, why: str) -> SettingsError:
        return SettingsError(f"the drawing {quoted(self.source)} {why}", name="file")

    def begin(self, name: str, attributes: dict[str, str]) -> None:
        self.count += 1
        if self.count > MOST_ELEMENTS or len(self.open) >= DEEPEST:
            raise self.refuse(
                f"has more than {MOST_ELEMENTS} elements, or more than {DEEPEST} inside each other"
            )
        element = Element(_local(name), {_local(key): text for key, text in attributes.items()})
        if self.open:
            self.open[-1].children.append(element)
        else:
            self.root = element
        self.open.append(element)

    def end(self, _name: str) -> None:
        self.open.pop()

    def characters(self, text: str) -> None:
        holder = self.open[-1]
        if holder.name not in WORDY:
            return
        if holder.children:
            holder.children[-1].tail += text
        else:
            holder.text += text

    def entity(self, *_details: object) -> None:
        raise self.refuse("declares entities of its own; save it again without them")


def _local(name: str) -> str:
    return name.rpartition(" ")[2]


def read_xml(data: bytes, source: str) -> Element:
    """Return the root element.

    Parameters
    ----------
    data : bytes
    source : str
        Name of the file, for messages.

    Raises
    ------
    SettingsError
        When it is no XML, too large or too deep, or declares entities.
    """
    builder = _Builder(source)
    if len(data) > LARGEST_XML_BYTES:
        raise builder.refuse("is larger than 100 MB")
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    parser.StartElementHandler = builder.begin
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.characters
    parser.EntityDeclHandler = builder.entity
    parser.UnparsedEntityDeclHandler = builder.entity
    try:
        parser.Parse(data, True)
    except SettingsError:
        raise
    except (expat.ExpatError, ValueError) as error:
        raise builder.refuse(f"cannot be read: {error}") from error
    if builder.root is None:
        raise builder.refuse("holds no element")
    return builder.root
