"""What can hurt the keeper, the larvae or other people's bees, said where it belongs."""

STINGS = (
    "Stings can kill people who are allergic. Know the signs of a severe reaction (trouble "
    "breathing, swelling of face or throat, faintness) and what to do before you open a hive."
)
JELLY = (
    "Royal jelly has caused asthma and severe reactions. Do not taste it; keep it off people with "
    "asthma or allergies. For priming use only jelly of your own healthy colonies."
)
DISEASE = (
    "Look at the brood first. Yellow, brown, sunken or smelling brood: stop, move nothing and ask "
    "your bee inspector. Rules on disease and on moving bees are national: ask your own authority."
)
LARVAE = (
    "Larvae must neither dry out nor be turned over: damp cloth, no sun, no wind; one side up from "
    "comb to cup. Lay each on its jelly and begin anew with another if it slips over."
)
LIGHT = (
    "Sun through a lens burns eyes, skin and wax: keep magnifiers covered and out of the sun. Use "
    "a cold lamp and do not look into it."
)
WAX = (
    "Wax melts at 62 to 66 °C and can catch fire: melt it in a water bath, never over a flame, and "
    "stay with it. Put burning wax out with a lid, never with water."
)
TOOLS = "Grafting tools and blades are sharp: put them down in one place, points away from you."
AUTHORITY = (
    "A plan is no licence to graft, treat, move or sell bees. What your own authority, a vet or a "
    "doctor says goes before it."
)

# On the day of grafting, in the order of the work.
GRAFTING_DAY = (DISEASE, STINGS, LARVAE, JELLY, LIGHT, WAX, TOOLS, AUTHORITY)
# Beside a plan on a screen.
PLANNING = (DISEASE, STINGS, AUTHORITY)
