//! What amounts of a drug hold: the raw map in, each equivalent with its source out.

use crate::document::{Entries, Fields, Item, Refusal};
use crate::formulary::drug::{Equivalent, Stocked};
use crate::quantity::{Amount, Quantity, UnitKind};

use super::{FileReading, by, plain};

/// The key of each is what is held: `magnesium: {amount: 1 g, of: magnesium sulfate heptahydrate, holds: 4.06 mmol}`.
pub(super) fn read(
    entries: Entries<'_, '_, '_>,
    stocked: Option<&[Stocked]>,
    reading: &FileReading<'_>,
) -> Option<Vec<Equivalent>> {
    entries.read(|member, item| equivalent(&member.key, item, stocked, reading))
}

fn equivalent(
    what: &str,
    item: Item<'_, '_, '_>,
    stocked: Option<&[Stocked]>,
    reading: &FileReading<'_>,
) -> Option<Equivalent> {
    let node = item.node();
    let mut fields = item.fields()?;
    let amount = fields.required("amount", by(Quantity::<Amount>::parse_dose));
    let of = fields.required("of", plain);
    let holds = fields.required("holds", by(Quantity::<Amount>::parse_dose));
    let source = fields.required("source", |typed| reading.cited(typed));
    if let (Some(amount), Some(of), Some(holds)) = (amount, &of, holds) {
        check(&mut fields, what, amount, of, holds);
        check_counted(&mut fields, amount, holds, stocked);
    }
    fields.no_others();
    Some(Equivalent {
        amount: amount?,
        of: of?,
        holds: holds?,
        what: what.to_owned(),
        origin: reading.origin(node, source?),
    })
}

/// A substance holds less of its part than it weighs itself; and it holds another thing than itself.
fn check(fields: &mut Fields<'_, '_, '_>, what: &str, amount: Quantity<Amount>, of: &str, holds: Quantity<Amount>) {
    if what == of {
        let message = format!("both sides are {of}");
        let refusal = Refusal::new("equivalent-contradicts", message);
        fields.refuse(
            "of",
            refusal.help("name the substance with its salt and water here, and what it holds before the colon"),
        );
    }
    if amount.kind() == UnitKind::Mass && holds.kind() == UnitKind::Mass && holds.value() >= amount.value() {
        let message = format!("{amount} of {of} cannot hold {holds} of {what}");
        let refusal = Refusal::new("equivalent-contradicts", message);
        fields.refuse("holds", refusal.help("a salt holds less than it weighs itself: are the two sides exchanged?"));
    }
}

/// An equivalent between two things that no strength counts would never be used.
fn check_counted(
    fields: &mut Fields<'_, '_, '_>,
    amount: Quantity<Amount>,
    holds: Quantity<Amount>,
    stocked: Option<&[Stocked]>,
) {
    let Some(stocked) = stocked else { return };
    let counted = |kind: UnitKind| stocked.iter().any(|one| one.amount_unit().kind() == kind);
    if !counted(amount.kind()) && !counted(holds.kind()) {
        let message =
            format!("no strength counts {}, and none {}", amount.kind().described(), holds.kind().described());
        let refusal = Refusal::new("strength-wrong-kind", message);
        fields.refuse("amount", refusal.help("let one of the two sides be what the strengths count"));
    }
}
