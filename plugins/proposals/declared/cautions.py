"""What every card and sheet says before anyone pours or tastes. Local codes and licensed practice come first."""

LOCAL = "Local fire code, hazardous-area rules and your licence come before anything printed here."
POUR = (
    "Spirit vapour burns: 40 % vol flashes near 26 °C, 60 % near 22 °C (from memory). Bond and ground, no ignition, "
    "extraction on, spill plan ready. Phones and laptops that are not rated stay out; write on paper.",
    "Water into spirit slowly, stirring, and watch the headspace: the mix warms and swells. Over-reduction cannot be "
    "undone everywhere in law: hold back the last water until the gauge.",
    "Never lean into or enter a vat or cask: no air to breathe, vapour; a confined-space permit is needed.",
    LOCAL,
)
TASTE = (
    "Cask strength burns: cut to 20 to 25 % vol to nose, spit, drink water, eat. Eight to ten small glasses at most. "
    "No driving or machines after; nobody is asked to swallow, and not who is pregnant, on medicine that "
    "interacts, or in recovery.",
    "Rest a glass five to ten minutes before nosing; a blend is nosed again after 24 to 48 hours (common practice).",
    "Duty applies to samples and spittoon: record what was used and destroyed.",
    LOCAL,
)
PROPOSAL = (
    "A proposal, not an instruction to pour: it needs bench confirmation and the blender's signature.",
    "Tastes are predicted by a law whose exponents are proposals until your own tasted trials teach them; the "
    "intervals are no guarantee of taste.",
    "Label verdicts are no legal advice and no label approval. Market release is the licence holder's act.",
)
