"""The words around the numbers that are said in the measurement of hearing, and what is said beside them."""

from __future__ import annotations

CARRIERS = (
    *("{}",) * 5,
    *("{} psi",) * 2,
    "it's at {}",
    "reads {}",
    "needle is at {}",
    "primary {}",
    "secondary {}",
    "rear tank {}",
    "the primary reads {}",
    "i have {}",
    "{} on the primary",
    "{} pounds",
    "the gauge says {}",
    "okay {}",
)
REPAIRS = (
    "{} no {}",
    "{} sorry {}",
    "{} correction {}",
    "{} make that {}",
    "{} i mean {}",
    "{} scratch that {}",
    "primary {} no sorry {}",
)
WITHDRAWALS = ("scratch that", "take that back", "no scratch that", "disregard that")
MOMENTS = ("start", "mark", "start now", "mark now")
TALK = (
    "we left the depot at half past nine",
    "there were thirty people in the queue",
    "i think he lives at number twelve",
    "that costs forty dollars these days",
    "it was about ninety degrees yesterday",
    "my sister has two children",
    "he said one hundred times that he was sorry",
    "let the pressure rise until the needle stops",
    "did you see the game last night",
    "they moved to the fifth floor",
    "route sixty six is closed for the weekend",
    "the load weighs eighteen tons today",
    "i have been driving for twenty five years",
    "the radio said it will rain after four",
    "gate fifteen is where they load the pallets",
    "nobody told me about the new schedule",
)
TO_A_PASSENGER = (
    "can you pass me the map",
    "turn the radio down please",
    "call me back in twenty minutes",
    "what time do you finish today",
    "watch your fingers when you close that door",
    "hand me the clipboard would you",
    "give me five minutes and we can go",
    "wait here while i look at the tires",
    "did you bring two sandwiches or three",
)
