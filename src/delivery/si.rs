//! SI for lines and syringes: the metre, the kilogram and the second, and what is made of them. In: numbers with the
//! units below; out: quantities of which wrong sums do not compile. Estimates only: a dose is never one of these.

#[macro_use]
pub mod length {
    //! Length.
    quantity! {
        /// Length.
        quantity: Length; "length";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<P1, Z0, Z0>;
        units {
            @metre: 1.0; "m", "m", "m";
            @centimetre: 1.0E-2; "cm", "cm", "cm";
            @millimetre: 1.0E-3; "mm", "mm", "mm";
        }
    }
}

#[macro_use]
pub mod mass {
    //! Mass.
    quantity! {
        /// Mass.
        quantity: Mass; "mass";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<Z0, P1, Z0>;
        units {
            @kilogram: 1.0; "kg", "kg", "kg";
        }
    }
}

#[macro_use]
pub mod time {
    //! Time.
    quantity! {
        /// Time.
        quantity: Time; "time";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<Z0, Z0, P1>;
        units {
            @second: 1.0; "s", "s", "s";
            @minute: 60.0; "min", "min", "min";
            @hour: 3600.0; "h", "h", "h";
        }
    }
}

#[macro_use]
pub mod area {
    //! Area.
    quantity! {
        /// Area.
        quantity: Area; "area";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<P2, Z0, Z0>;
        units {
            @square_metre: 1.0; "m2", "m2", "m2";
            @square_millimetre: 1.0E-6; "mm2", "mm2", "mm2";
        }
    }
}

#[macro_use]
pub mod volume {
    //! Volume.
    quantity! {
        /// Volume.
        quantity: Volume; "volume";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<P3, Z0, Z0>;
        units {
            @cubic_metre: 1.0; "m3", "m3", "m3";
            @millilitre: 1.0E-6; "mL", "mL", "mL";
        }
    }
}

#[macro_use]
pub mod flow {
    //! Flow.
    quantity! {
        /// Volume in a time.
        quantity: Flow; "volume in a time";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<P3, Z0, N1>;
        units {
            @cubic_metre_per_second: 1.0; "m3/s", "m3/s", "m3/s";
            @millilitre_per_hour: 1.0E-6 / 3600.0; "mL/h", "mL/h", "mL/h";
        }
    }
}

#[macro_use]
pub mod speed {
    //! Speed.
    quantity! {
        /// Speed.
        quantity: Speed; "speed";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<P1, Z0, N1>;
        units {
            @metre_per_second: 1.0; "m/s", "m/s", "m/s";
        }
    }
}

#[macro_use]
pub mod acceleration {
    //! Acceleration.
    quantity! {
        /// Acceleration.
        quantity: Acceleration; "acceleration";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<P1, Z0, N2>;
        units {
            @metre_per_second_squared: 1.0; "m/s2", "m/s2", "m/s2";
        }
    }
}

#[macro_use]
pub mod diffusivity {
    //! Diffusivity.
    quantity! {
        /// Diffusivity.
        quantity: Diffusivity; "diffusivity";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<P2, Z0, N1>;
        units {
            @square_metre_per_second: 1.0; "m2/s", "m2/s", "m2/s";
        }
    }
}

#[macro_use]
pub mod density {
    //! Density.
    quantity! {
        /// Density.
        quantity: Density; "density";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<N3, P1, Z0>;
        units {
            @kilogram_per_cubic_metre: 1.0; "kg/m3", "kg/m3", "kg/m3";
        }
    }
}

#[macro_use]
pub mod force {
    //! Force.
    quantity! {
        /// Force.
        quantity: Force; "force";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<P1, P1, N2>;
        units {
            @newton: 1.0; "N", "N", "N";
        }
    }
}

#[macro_use]
pub mod pressure {
    //! Pressure.
    quantity! {
        /// Pressure above that of the room.
        quantity: Pressure; "pressure above that of the room";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<N1, P1, N2>;
        units {
            @pascal: 1.0; "Pa", "Pa", "Pa";
            @kilopascal: 1.0E3; "kPa", "kPa", "kPa";
            @millimetre_of_mercury: 133.322_387_415; "mmHg", "mmHg", "mmHg";
        }
    }
}

#[macro_use]
pub mod viscosity {
    //! Viscosity.
    quantity! {
        /// Dynamic viscosity.
        quantity: Viscosity; "dynamic viscosity";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<N1, P1, N1>;
        units {
            @pascal_second: 1.0; "Pa s", "Pa s", "Pa s";
            @millipascal_second: 1.0E-3; "mPa s", "mPa s", "mPa s";
        }
    }
}

#[macro_use]
pub mod compliance {
    //! Compliance.
    quantity! {
        /// Volume taken up by a pressure.
        quantity: Compliance; "volume taken up by a pressure";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<P4, N1, P2>;
        units {
            @cubic_metre_per_pascal: 1.0; "m3/Pa", "m3/Pa", "m3/Pa";
            @millilitre_per_kilopascal: 1.0E-9; "mL/kPa", "mL/kPa", "mL/kPa";
        }
    }
}

#[macro_use]
pub mod resistance {
    //! Resistance.
    quantity! {
        /// Pressure for a flow.
        quantity: Resistance; "pressure for a flow";
        /// Its dimension in metre, kilogram and second.
        dimension: Mks<N4, P1, N1>;
        units {
            @pascal_second_per_cubic_metre: 1.0; "Pa s/m3", "Pa s/m3", "Pa s/m3";
            @kilopascal_hour_per_millilitre: 3.6E12; "kPa h/mL", "kPa h/mL", "kPa h/mL";
        }
    }
}

system! {
    quantities: Mks {
        length: metre, L;
        mass: kilogram, M;
        time: second, T;
    }

    units: U {
        mod length::Length,
        mod mass::Mass,
        mod time::Time,
        mod area::Area,
        mod volume::Volume,
        mod flow::Flow,
        mod speed::Speed,
        mod acceleration::Acceleration,
        mod diffusivity::Diffusivity,
        mod density::Density,
        mod force::Force,
        mod pressure::Pressure,
        mod viscosity::Viscosity,
        mod compliance::Compliance,
        mod resistance::Resistance,
    }
}

mod held {
    //! The quantities of this system, held as `f64`.
    Mks!(crate::delivery::si, f64);
}

pub use held::{
    Acceleration, Area, Compliance, Density, Diffusivity, Flow, Force, Length, Mass, Pressure, Resistance, Speed, Time,
    Viscosity, Volume,
};
