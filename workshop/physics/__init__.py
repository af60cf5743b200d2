"""The workshop's physics: plain numbers in, plain numbers out; no Django, no database, no clock.

    shapes            a bead as solid geometry: glass, length on the cord, how thick to the kiln
    units             lengths, masses, times, temperatures and counts as people write them
    composition       oxides by mole and by weight; the glasses the trade meets
    density           one density for every bottle, a model for a known composition
    viscosity         how stiff hot glass is; strain, annealing, softening and working points
    surface_tension   what draws the grains together
    sintering         whether grains bond, by a hold or by a logged firing
    annealing         how slowly the thickest bead must cool
    expansion         which glasses may share a bead
    heat              heat of a firing, fuels, and a kiln's efficiency from weighed fuel
    bottles           what a bottle weighs
    practice          windows of common practice, to warn by and never to refuse by

The rest are rooms behind these: `shape_base`, `turned_shapes`, `flat_shapes`, `number_text`,
`unit_words`, `advice`, `sentences`. Advice carries its number, its source and its range; what has
no answer raises `PhysicsError` (`ShapeError`, `UnitError`, `CompositionError`) with a whole
sentence. Pint is loaded when the first unit is read, nothing heavier ever.
"""
