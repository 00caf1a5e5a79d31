"""The engine: air, drying, wet edge, planning, explaining. No web, clock or network."""
