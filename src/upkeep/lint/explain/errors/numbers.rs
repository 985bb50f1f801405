//! How numbers, units and dates may not be written (ISMP list of error-prone abbreviations; ISO 80000-1).

super::errors! {
    "quantity-empty":
        "Nothing is written where a number and a unit belong.",
        "An empty value is no value, and is not guessed.",
        "write the number and its unit",
        "volume: 50 mL";
    "number-missing":
        "A value does not begin with a number.",
        "What cannot be read surely is not read at all.",
        "write the number first, a space, and the unit",
        "amount: 4 mg";
    "number-leading-point":
        "A number begins with a point.",
        ".5 is read as 5 where the point is overlooked: ten times as much (ISMP).",
        "write a zero before the point; `--fix` does it",
        "from: 0.5 mg/h";
    "number-trailing-zero":
        "A dose or strength ends with a zero after the point.",
        "5.0 is read as 50 where the point is overlooked: ten times as much (ISMP).",
        "write it without the zero; `--fix` does it",
        "amount: 5 mg";
    "number-trailing-point":
        "A number ends with a point.",
        "A digit may be missing after it, or the point is read as one.",
        "write the number without the point, or with its digits",
        "amount: 5 mg";
    "number-two-points":
        "A number has more than one point.",
        "It can be read in two ways, a thousand times apart.",
        "write one point, and group thousands with a space",
        "amount: 10 000 units";
    "number-leading-zero":
        "A whole number begins with a zero.",
        "A point may be missing after it: 05 for 0.5.",
        "write the number that is meant",
        "amount: 5 mg";
    "number-comma":
        "A number has a comma.",
        "It is the decimal sign in some countries and groups thousands in others: 1,000 is one, or a thousand.",
        "write a point, or no sign at all",
        "amount: 1.5 mg";
    "number-grouping":
        "A number is not grouped by threes.",
        "Zeros are miscounted, or two numbers stand in one place.",
        "write the digits together, or by threes from the right with a space",
        "amount: 25 000 units";
    "number-grouped-too-short":
        "A number of four digits is grouped.",
        "1 000 is read as 1 and something else.",
        "write four digits together; `--fix` does it",
        "amount: 1000 mg";
    "number-exponent":
        "A number is a power of ten in computer writing.",
        "At the bedside nobody reads it surely.",
        "write the number out, in a unit that fits",
        "amount: 100 000 units";
    "number-sign":
        "A number has a sign.",
        "A minus may be a hyphen, a range or a slip; no amount here is negative.",
        "write one number; a range is two values, `from` and `to`",
        "usual: {from: 1 mg/h, to: 5 mg/h, source: label}";
    "number-look-alike":
        "A letter or a sign of another alphabet stands where a digit is meant.",
        "O and 0, l and 1 look the same, and mean another number or none.",
        "write the digit",
        "amount: 10 mg";
    "two-readings":
        "A text can be read in two ways.",
        "One of them is wrong, and nobody can tell which.",
        "write the one that is meant, in full",
        "dose_unit: milliunits/kg/min";
    "number-too-many-digits":
        "A number has more digits than anybody measures.",
        "It is a slip of the fingers, or a computed number that was copied.",
        "write at most nine significant digits",
        "amount: 0.333 mg";
    "number-out-of-range":
        "A number is smaller or larger than any real amount.",
        "Zeros were miscounted, or the unit is wrong.",
        "write it in a unit that fits, and look at it again",
        "amount: 4 mg";
    "number-zero":
        "A number is zero where there must be some.",
        "A strength, a limit or a priming volume of nothing makes every sum wrong.",
        "write the number, or leave the field out",
        "priming_volume: 0.9 mL";
    "number-too-large":
        "The numbers are too far apart to be computed exactly.",
        "Numbers so far apart are a slip.",
        "look at number and unit again",
        "amount: 4 mg";
    "unit-missing":
        "A number has no unit.",
        "4 of what? Mass and volume, min and h are confused by whoever fills it in.",
        "write the unit after a space",
        "volume: 50 mL";
    "unit-unknown":
        "A unit is not in the table of units.",
        "Only units that have one meaning are read.",
        "write the unit that the message names",
        "amount: 4 mg";
    "unit-case":
        "A unit has other capitals than it is written with.",
        "Capitals change a unit: Mg is a million times mg.",
        "write it exactly: mg, mcg, mL, mmol, mEq",
        "amount: 4 mg";
    "unit-misread":
        "A unit is abbreviated in a way that is misread too often.",
        "U is read as 0, IU as IV, cc as U (ISMP): ten times as much, or another route.",
        "write units, mL, mcg in full",
        "amount: 50 units";
    "unit-wrong-kind":
        "A unit measures another thing than the field does.",
        "The number may stand in the wrong place.",
        "write the unit that the message asks for",
        "life_after_drawing_up: {time: 24 h, source: label}";
    "dose-time-missing":
        "A dose or rate has no time.",
        "mcg/kg in what time? Per min and per h are 60 times apart.",
        "write /min, /h or /day",
        "dose_unit: mcg/kg/min";
    "dose-time-too-many":
        "A bolus has a time in its unit.",
        "A bolus is an amount; the time over which it is given stands in `over`.",
        "write the amount alone",
        "bolus: {dose_unit: mcg/kg, over: {from: 1 min, source: label}}";
    "unit-divisor-unknown":
        "What stands after `/` is nothing a dose is counted by.",
        "Per kg, per m2, per min, per h, per day: anything else has no meaning here.",
        "write one of them",
        "dose_unit: mcg/kg/min";
    "unit-divisor-twice":
        "A unit divides by the same thing twice.",
        "It is a slip, and its meaning is not sure.",
        "write it once",
        "dose_unit: mcg/kg/min";
    "strength-volume-missing":
        "A strength is an amount without a volume.",
        "4 mg in what? Amount, volume and strength are three things.",
        "write both",
        "of: 1 mg in 1 mL";
    "strength-swapped":
        "A strength has amount and volume in each other's place.",
        "The two numbers belong to the other units.",
        "write the amount first, then the volume",
        "of: 4 mg in 50 mL";
    "strength-percent-too-high":
        "A percentage is more than 100, or a ratio less than 1.",
        "There is no such solution.",
        "write the strength in mg/mL",
        "of: 10 mg/mL";
    "quantity-trailing":
        "Something stands after the end of a value.",
        "It may be the part that matters.",
        "write one value; remarks go behind a #",
        "volume: 50 mL   # final volume";
    "moment":
        "A date, an age or a moment is not written as one.",
        "31-12 and 12-31 are read differently in different countries.",
        "write year, month, day",
        "review: {by: 2027-06-30, justify_from: 2027-09-30}";
}
