"""What Textual finds out about style sheets and handlers, once for all apps of a test session.

Each test opens an app of its own, and all of them have the same sheets and nearly the same widgets:
the same rules would be parsed and matched hundreds of times. What the styles of a widget depend on
is taken whole: the rules; the class, id and classes of each widget from the app down to it; and
whatever pseudo-classes those rules ask of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache
from typing import Any, NamedTuple

import pytest
from textual.css.model import RuleSet
from textual.css.styles import RulesMap
from textual.css.stylesheet import Stylesheet
from textual.css.types import CSSLocation
from textual.dom import DOMNode
from textual.message import Message
from textual.message_pump import MessagePump

_parse = Stylesheet._parse_rules
_apply = Stylesheet.apply
_handlers = MessagePump._get_dispatch_methods

_FLAGS = ("_has_hover_style", "_has_focus_within", "_has_order_style", "_has_odd_or_even")


class _Found:
    """What the rules made of a widget: its styles, or none, and what Textual notes beside them."""

    def __init__(self, styles: RulesMap | None, flags: Iterable[bool]) -> None:
        self.styles, self.flags = styles, dict(zip(_FLAGS, flags, strict=True))


class _Known(NamedTuple):
    """Of widgets that are alike: what else their styles depend on, and those by what it is.

    With the styles of a widget come those of its parts.
    """

    asked: tuple[tuple[int, str], ...]
    found: dict[tuple[bool, ...], tuple[_Found, list[_Found]]]


_Step = tuple[type[DOMNode], str | None, frozenset[str]]
_Alike = tuple[_Step, ...]
_parsed: dict[tuple[object, ...], list[RuleSet]] = {}
_known: dict[tuple[RuleSet, ...], dict[_Alike, _Known]] = {}

_OF_APP = {"dark", "light", "inline", "ansi", "nocolor"}
"""Pseudo-classes that hold of all widgets of an app or of none."""


def look_up_what_is_known(patch: pytest.MonkeyPatch) -> None:
    """Have all apps share what was parsed, matched and looked for."""
    patch.setattr(Stylesheet, "_parse_rules", _parse_once)
    patch.setattr(Stylesheet, "apply", _apply_known)
    patch.setattr(MessagePump, "_get_dispatch_methods", _known_handlers)
    # the same hash, of the identity, without a call in Python for every rule of every widget
    patch.setattr(RuleSet, "__hash__", object.__hash__)


def _parse_once(
    sheet: Stylesheet,
    css: str,
    read_from: CSSLocation,
    is_default_rules: bool = False,
    tie_breaker: int = 0,
    scope: str = "",
) -> list[RuleSet]:
    source = (css, read_from, is_default_rules, tie_breaker, scope)
    key = (*source, *sheet._variables.items())
    if key not in _parsed:
        _parsed[key] = _parse(sheet, *source)
    return _parsed[key]


def _apply_known(
    sheet: Stylesheet,
    node: DOMNode,
    *,
    animate: bool = False,
    cache: dict[tuple[object, ...], Any] | None = None,
) -> None:
    found, parts = _found(sheet, node)
    vars(node).update(found.flags)
    if found.styles is not None:
        if animate or getattr(node, "_known_styles", None) is not found:
            sheet.replace_rules(node, found.styles, animate=animate)
        else:
            node.notify_style_update()
        node._known_styles = found  # type: ignore[attr-defined]
    # a part is a widget of its own to Textual, and comes by here when its styles are to be made
    if parts and getattr(node, "_known_part_styles", None) is not parts:
        sheet._process_component_classes(node)
        node._known_part_styles = parts  # type: ignore[attr-defined]


def _found(sheet: Stylesheet, node: DOMNode) -> tuple[_Found, list[_Found]]:
    """Return what the rules make of a widget and of its parts."""
    path = node.css_path_nodes
    alike = tuple((type(step), step._id, frozenset(step._classes)) for step in path)
    of_sheet = _of_sheet(sheet)
    if (known := of_sheet.get(alike)) is None:
        asked = _asked(sheet, node).union(*(_asked(sheet, part) for part in _parts(node)))
        known = of_sheet[alike] = _Known(tuple(sorted(asked)), {})
    answers = tuple(
        path[place]._PSEUDO_CLASSES[pseudo](path[place]) for place, pseudo in known.asked
    )
    if (found := known.found.get(answers)) is None:
        parts = [_matched(sheet, part) for part in _parts(node)]
        found = known.found[answers] = _matched(sheet, node), parts
    return found


def _has(node: DOMNode, pseudo: str) -> bool:
    holds: Callable[[Any], bool] = node._PSEUDO_CLASSES[pseudo]
    return holds(node)


def _of_sheet(sheet: Stylesheet) -> dict[_Alike, _Known]:
    """Return what is known of the rules of a sheet; sheets of other apps may have the same."""
    rules_map: Any = sheet.rules_map
    kept = getattr(sheet, "_known_of_rules", None)
    if kept is None or kept[0] is not rules_map:
        kept = rules_map, _known.setdefault(tuple(sheet.rules), {})
        sheet._known_of_rules = kept  # type: ignore[attr-defined]
    return kept[1]


def _parts(node: DOMNode) -> list[DOMNode]:
    """Return what stands for the parts of a widget where rules are matched."""
    parts = [DOMNode(classes=name) for name in node._get_component_classes()]
    for part in parts:
        part._attach(node)
    return parts


def _asked(sheet: Stylesheet, node: DOMNode) -> set[tuple[int, str]]:
    """Return which pseudo-classes of which widget on the way the rules for a widget ask about."""
    path = node.css_path_nodes
    return {
        (0 if pseudo in _OF_APP else place, pseudo)
        for name in sheet.rules_map.keys() & node._selector_names
        for rule in sheet.rules_map[name]
        for selectors in rule.selector_set
        for selector in selectors.selectors
        for place, step in enumerate(path)
        if step is not node or selector is selectors.selectors[-1]
        for pseudo in selector.pseudo_classes & step._PSEUDO_CLASSES.keys()
        if selector._check(step)
    }


def _matched(sheet: Stylesheet, node: DOMNode) -> _Found:
    """Have Textual match the rules, and change nothing yet."""
    styles: list[RulesMap] = []

    def keep(_node: DOMNode, rules: RulesMap, animate: bool = False) -> None:
        styles.append(rules)

    own: dict[str, Callable[..., None]] = {
        "replace_rules": keep,
        "_process_component_classes": lambda _node: None,
    }
    vars(sheet).update(own)
    try:
        _apply(sheet, node)
    finally:
        for name in own:
            del vars(sheet)[name]
    return _Found(styles[0] if styles else None, [getattr(node, flag) for flag in _FLAGS])


def _known_handlers(
    pump: MessagePump, method_name: str, message: Message
) -> Iterable[tuple[type, Callable[..., Any]]]:
    if not _may_handle(type(pump), method_name, type(message)):
        return ()
    return _handlers(pump, method_name, message)


@cache
def _may_handle(pump: type, method_name: str, message: type) -> bool:
    """Return whether a class has any handler for a kind of message; most have none."""
    return any(
        vars(kind).get(f"_{method_name}")
        or vars(kind).get(method_name)
        or not vars(kind).get("_decorated_handlers", {}).keys().isdisjoint(message.__mro__)
        for kind in pump.__mro__
    )
