"""From a workshop to the state of every requirement of a vehicle. Pure: no file, no git, no clock.

`assess.assess` gives the assessment; `seals` gives what sealing writes. The core, over abstract entries, is `truth`,
`chain` and `requirement`; everything else finds the facts, parts and records that it takes.
"""
