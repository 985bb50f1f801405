//! A small system of quantities for infusions: drug mass, drug units, amount of substance, charge, volume, time, body
//! mass and body surface are eight different things. Adding a drug mass to a body mass does not compile.

#[macro_use]
pub(super) mod drug_mass {
    quantity! {
        /// Drug mass.
        quantity: DrugMass; "drug mass";
        /// Its dimension in the eight base quantities.
        dimension: Q<P1, Z0, Z0, Z0, Z0, Z0, Z0, Z0>;
        units {
            @nanogram: 1.0E-6; "ng", "ng", "ng";
            @microgram: 1.0E-3; "mcg", "mcg", "mcg";
            @milligram: 1.0; "mg", "mg", "mg";
            @gram: 1.0E3; "g", "g", "g";
        }
    }
}

#[macro_use]
pub(super) mod drug_units {
    quantity! {
        /// Drug units.
        quantity: DrugUnits; "drug units";
        /// Its dimension in the eight base quantities.
        dimension: Q<Z0, P1, Z0, Z0, Z0, Z0, Z0, Z0>;
        units {
            @milliunit: 1.0E-3; "milliunit", "milliunit", "milliunit";
            @unit: 1.0; "unit", "unit", "unit";
        }
    }
}

#[macro_use]
pub(super) mod drug_moles {
    quantity! {
        /// Amount of substance.
        quantity: DrugMoles; "amount of substance";
        /// Its dimension in the eight base quantities.
        dimension: Q<Z0, Z0, P1, Z0, Z0, Z0, Z0, Z0>;
        units {
            @micromole: 1.0E-3; "micromol", "micromol", "micromol";
            @millimole: 1.0; "mmol", "mmol", "mmol";
            @mole: 1.0E3; "mol", "mol", "mol";
        }
    }
}

#[macro_use]
pub(super) mod drug_charge {
    quantity! {
        /// Amount of charge carried.
        quantity: DrugCharge; "amount of charge carried";
        /// Its dimension in the eight base quantities.
        dimension: Q<Z0, Z0, Z0, P1, Z0, Z0, Z0, Z0>;
        units {
            @milliequivalent: 1.0; "mEq", "mEq", "mEq";
        }
    }
}

#[macro_use]
pub(super) mod volume {
    quantity! {
        /// Volume of solution.
        quantity: SolutionVolume; "volume of solution";
        /// Its dimension in the eight base quantities.
        dimension: Q<Z0, Z0, Z0, Z0, P1, Z0, Z0, Z0>;
        units {
            @microlitre: 1.0E-3; "microlitre", "microlitre", "microlitre";
            @millilitre: 1.0; "mL", "mL", "mL";
            @litre: 1.0E3; "L", "L", "L";
        }
    }
}

#[macro_use]
pub(super) mod time {
    quantity! {
        /// Time.
        quantity: ElapsedTime; "time";
        /// Its dimension in the eight base quantities.
        dimension: Q<Z0, Z0, Z0, Z0, Z0, P1, Z0, Z0>;
        units {
            @second: 1.0; "s", "s", "s";
            @minute: 60.0; "min", "min", "min";
            @hour: 3600.0; "h", "h", "h";
            @day: 86400.0; "day", "day", "day";
        }
    }
}

#[macro_use]
pub(super) mod body_mass {
    quantity! {
        /// Body mass.
        quantity: BodyMass; "body mass";
        /// Its dimension in the eight base quantities.
        dimension: Q<Z0, Z0, Z0, Z0, Z0, Z0, P1, Z0>;
        units {
            @kilogram: 1.0; "kg", "kg", "kg";
        }
    }
}

#[macro_use]
pub(super) mod body_surface {
    quantity! {
        /// Body surface.
        quantity: BodySurface; "body surface";
        /// Its dimension in the eight base quantities.
        dimension: Q<Z0, Z0, Z0, Z0, Z0, Z0, Z0, P1>;
        units {
            @square_metre: 1.0; "m2", "m2", "m2";
        }
    }
}

#[macro_use]
pub(super) mod flow {
    quantity! {
        /// Volume in a time.
        quantity: Flow; "volume in a time";
        /// Its dimension in the eight base quantities.
        dimension: Q<Z0, Z0, Z0, Z0, P1, N1, Z0, Z0>;
        units {
            @millilitre_per_hour: 1.0 / 3600.0; "mL/h", "mL/h", "mL/h";
        }
    }
}

system! {
    quantities: Q {
        drug_mass: milligram, M;
        drug_units: unit, U;
        drug_moles: millimole, N;
        drug_charge: milliequivalent, E;
        volume: millilitre, V;
        time: second, T;
        body_mass: kilogram, B;
        body_surface: square_metre, S;
    }

    units: U {
        mod drug_mass::DrugMass,
        mod drug_units::DrugUnits,
        mod drug_moles::DrugMoles,
        mod drug_charge::DrugCharge,
        mod volume::SolutionVolume,
        mod time::ElapsedTime,
        mod body_mass::BodyMass,
        mod body_surface::BodySurface,
        mod flow::Flow,
    }
}

pub(super) mod counted {
    //! The quantities of this system, held as `f64`.
    mod second_route {
        pub(super) use super::super::*;
    }

    Q!(self::second_route, f64);
}
