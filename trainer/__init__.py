"""Twinspur: a terminal practice trainer for guitarists who play and teach twin-guitar metal."""
