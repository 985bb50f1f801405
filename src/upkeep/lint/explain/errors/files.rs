//! What keeps a file from being read at all, and what its form may not be.

super::errors! {
    "formulary-folder":
        "The folder is not there, or it is not that of a formulary.",
        "No formulary is ever assumed.",
        "name the folder that holds formulary.yaml, areas.yaml, equipment.yaml and drugs",
        "countersign formulary lint DIR";
    "formulary-file-missing":
        "A file that every formulary has is missing.",
        "Without house rules, areas and equipment no limit can be asked.",
        "write it; the demonstration shows its form",
        "formulary.yaml, areas.yaml, equipment.yaml, drugs/";
    "file-not-read":
        "A file lies in the formulary that nothing reads.",
        "Somebody believes that its limits count.",
        "give it the ending .yaml, move it right into `drugs`, or take it away",
        "drugs/insulin.yaml   # not drugs/insulin.yml";
    "file-not-found":
        "There is no such file.",
        "A limit that cannot be read cannot be asked.",
        "check the name and the folder",
        "drugs/insulin.yaml";
    "file-not-permitted":
        "The file may not be read by you.",
        "A limit that cannot be read cannot be asked.",
        "ask whoever looks after the computer for the right to read it",
        "chmod go+r drugs/insulin.yaml";
    "file-is-folder":
        "A folder stands where a file is needed.",
        "Nothing is read from it.",
        "name a file",
        "drugs/insulin.yaml";
    "file-not-regular":
        "A device or a pipe stands where a file is needed.",
        "It may never end.",
        "put a plain file in its place",
        "drugs/insulin.yaml";
    "file-unreadable":
        "The file could not be read.",
        "A disk or a network may be failing.",
        "try again, and copy the file to another disk if it stays",
        "drugs/insulin.yaml";
    "file-not-utf8":
        "The file is not UTF-8 text.",
        "Letters and signs would be read as others.",
        "save it again as UTF-8",
        "# most editors have it under: save with encoding";
    "text-empty":
        "There is nothing in the file.",
        "It was perhaps not saved.",
        "check that it is the right file",
        "drug: insulin";
    "text-too-long":
        "The file is longer than any such file is.",
        "It is another file, or two in one.",
        "check that it is the right file; if it is, split it",
        "# one drug a file";
    "text-unseen-character":
        "There is a character that cannot be seen, or one that turns the direction of reading.",
        "With it a value looks like another one than it is.",
        "take it away; retyping the line is the surest way",
        "amount: 50 units";
    "text-control-character":
        "A control character stands in a text.",
        "It can change what a terminal shows.",
        "write the text in one line",
        "class: vasopressor";
    "nesting-too-deep":
        "Lists and maps stand inside one another deeper than any file needs.",
        "A bracket is not closed.",
        "look for the bracket",
        "soft: {from: 1 mg/h, to: 5 mg/h, source: label}";
    "yaml-syntax":
        "The file is not YAML.",
        "Nothing after the place can be read surely.",
        "write one field a line: its name, a colon, a space, its value",
        "class: vasopressor";
    "yaml-tab":
        "A tab stands where spaces belong.",
        "How deep it indents depends on the editor.",
        "write spaces",
        "strengths:\n  single: {amount: 4 mg, volume: 50 mL, source: label}";
    "yaml-anchor":
        "An anchor (`&`) stands before a value.",
        "A value that is used elsewhere without being written there is not seen by whoever checks that place.",
        "write the value out wherever it belongs",
        "hard: {to: 3 mcg/kg/min, source: label}";
    "yaml-alias":
        "An alias (`*`) stands in place of a value.",
        "Whoever checks the line does not see the value.",
        "write the value out",
        "hard: {to: 3 mcg/kg/min, source: label}";
    "yaml-merge":
        "A merge (`<<`) brings in fields that are not written in the place.",
        "Whoever checks the place does not see them.",
        "write every field out",
        "hard: {to: 3 mcg/kg/min, source: label}";
    "yaml-tag":
        "A tag (`!`) changes how a value is read.",
        "The value is another one than it looks.",
        "take the tag away",
        "year: 2016";
    "yaml-key":
        "The name of a field is not a text.",
        "Nothing is looked up under it.",
        "write a name, a colon, a space and the value",
        "class: vasopressor";
    "yaml-second-document":
        "A second document begins in the file.",
        "Only one of the two would count.",
        "write one document a file, without `---`",
        "drug: insulin";
    "field-unknown":
        "A field has a name that is not known in its place.",
        "A mistyped limit is no limit.",
        "write the name that the message suggests; it lists the names that are known there",
        "dosing_weights: [actual]";
    "field-missing":
        "A field that must be there is not.",
        "What is left out is not guessed: a limit without a source, a line without its priming volume.",
        "write the field and its value",
        "narrow-150: {kind: narrow, length: 150 cm, priming_volume: 0.9 mL}";
    "field-doubled":
        "A field is written twice.",
        "One of the two counts, and people look at the other.",
        "keep the one that is right",
        "class: vasopressor";
    "field-empty":
        "A field has no value.",
        "Nobody knows whether it was forgotten.",
        "write its value, or take the field away if it may be left out",
        "class: vasopressor";
    "field-not-text":
        "A list or a map stands where one value belongs.",
        "None of its values is read.",
        "write one value",
        "class: vasopressor";
    "field-not-list":
        "One value or a map stands where a list belongs.",
        "Its items are not read.",
        "write a list, in square brackets",
        "strengths: [single, double]";
    "field-not-map":
        "One value or a list stands where fields belong.",
        "Its fields are not read.",
        "write the fields, each with a name, a colon and a value",
        "soft: {from: 1 mg/h, to: 5 mg/h, source: label}";
}
