"""What a brief asks for, whether it is due, and the proposals made for it.

May import: choosing, declared, pipeline, plugins.proof, sets, stock, taste.
Read: share_claims, wishes, remarks, gather, tasted_recipe, due, propose.
"""
