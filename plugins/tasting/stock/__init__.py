"""How casks stand to each other, to the house and to their wood; their table and diary.

May import: declared, pipeline, plugins.proof, profiles, samples.
Read: stock, ward, likeness, cask_words, cask_table, cask_diary, stock_stages.
"""
