"""The words of a working: sentences with their numbers, and the rule behind them."""

from django import template

from orders.reckoning.sentences import figure_said, rule_said, sentence_of, source_said, unit_said

register = template.Library()
register.filter("said_figure", figure_said)
register.filter("sentence", sentence_of)
register.filter("rule", rule_said)
register.filter("said_unit", unit_said)
register.filter("said_source", source_said)
