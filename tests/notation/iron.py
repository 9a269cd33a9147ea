"""An exercise for tests, with a little of everything that a file says most."""

IRON = """\
+++
title = "Iron Causeway"
key = "E aeolian"
meter = "4/4"
tempo = { start = 92, target = 168 }
form = ["Low road x2", "Signal fires"]

[parts."guitar 1"]
patch = "lead left"

[parts.bass]
tuning = "E1 A1 D2 G2"
patch = "picked bass"
+++

# Iron Causeway

Two guitars over one pedal note. Loosen the wrist before the first rung.

## Low road

```tab guitar 1
count | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & 4 & |
5     |                     2 3 |             7 5 3 2 |
6     | 0 0 0 0 0 0 0 0 3 2     | 0 0 0 0 0 0         |
mute  | = = = = = = = =         | = = = = = =         |
pick  | d d u d d u d d u d d u | d d u d d u d d d d |
```

```tab drums
count | 1 & 2 & 3 & 4 & | % |
snare |     x       X   |   |
kick  | x   x x x   o   |   |
```

## Signal fires

```riff
key = "B locrian"
tempo = { start = 80, target = 140 }
```

```tab guitar 1
count | 1 & 2  & 3     4 |
1     | 7 8 10 7         |
2     |          8b10~ r |
```

```harmony guitar 2
follows = "guitar 1"
interval = "third below"
```
"""
