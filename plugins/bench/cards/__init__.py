"""What to try and how to pour it: designs, millilitres, codes on glasses, the card as workbook and command.

May import: declared, pipeline, plugins.proof.
Read: serving, card_workbook, tasters, designs, card_reports, needs, measure, optimal, card, strengths, card_stage,
recipes, command.
"""
