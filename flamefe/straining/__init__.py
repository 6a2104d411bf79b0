"""How the part is held and how it strains."""
