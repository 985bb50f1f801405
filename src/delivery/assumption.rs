//! What an estimate takes for granted. In: nothing; out: one [`Assumption`] for each, with its sentence.

use std::fmt;

/// Taken for granted by an estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Assumption {
    /// The drug moves as one plug; the driver is already running.
    PlugFlow,
    /// Laminar flow in a straight round tube, nothing sticks to the wall.
    LaminarTube,
    /// Between a plug and a well-mixed space.
    PlugOrMixed,
    /// The volume after the line, which was not entered.
    CatheterFromTable,
    /// A catheter of known volume and unknown length.
    CatheterSpreadUnknown,
    /// The drug is dissolved, with small molecules.
    SmallMolecules,
    /// Start-up costs the same volume at each rate.
    OneVolumeForEachRate,
    /// The publication does not say which syringe.
    SyringeSizeNotStated,
    /// Nobody measured a syringe of this size.
    SizeInterpolated,
    /// The spread between drivers that were not purged.
    OneDriverMayDifferFromAnother,
    /// Rubber does not stiffen and plastic does not creep.
    ComplianceConstant,
    /// No measured line.
    LineComplianceUnmeasured,
    /// Blocked totally, at the patient, without a leak.
    BlockedAtThePatient,
    /// The alarm goes by pressure alone.
    AlarmByPressureAlone,
    /// The driver's own alarm pressure was not entered.
    AlarmPressureFromPublications,
    /// Compressed air follows Boyle, which measured less than was seen.
    AirMayDoubleItsShare,
    /// At most this; never a dose.
    UpperBound,
    /// The bore is that of a tube of this length and filling volume.
    BoreFromVolume,
    /// As viscous as water at the temperature of a room or a body, or a fifth more.
    LikeWater,
    /// No claim is closer than what theory has been held against.
    NoCloserThanFourteenPercent,
    /// Tolerances only: mixing and counting errors are larger.
    TolerancesOnly,
}

impl Assumption {
    /// Whether what is measured tends to be later, or more, than this says.
    #[must_use]
    pub const fn is_optimistic(self) -> bool {
        matches!(self, Self::PlugFlow | Self::AirMayDoubleItsShare | Self::TolerancesOnly)
    }
}

impl fmt::Display for Assumption {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::PlugFlow => {
                "the drug moves as one plug and the driver is already at its rate: too early rather than too late"
            }
            Self::LaminarTube => "laminar flow in a straight round tube, nothing sticks to its wall",
            Self::PlugOrMixed => "somewhere between a plug and a well-mixed space",
            Self::CatheterFromTable => "the volume after the line was not entered: that of published catheters",
            Self::CatheterSpreadUnknown => {
                "length and bore after the line are unknown: from the earliest to the latest spread"
            }
            Self::SmallMolecules => "the drug is dissolved and its molecules are small",
            Self::OneVolumeForEachRate => "start-up costs about the same volume at each rate",
            Self::SyringeSizeNotStated => "the abstract that was read does not state the syringe's size",
            Self::SizeInterpolated => {
                "no syringe of this size was measured: from the smaller one's least to the larger one's most"
            }
            Self::OneDriverMayDifferFromAnother => {
                "not purged: the spread is that between drivers, and nobody knows where this one lies"
            }
            Self::ComplianceConstant => {
                "compliance does not change with pressure or time; rubber stiffens and plastic creeps"
            }
            Self::LineComplianceUnmeasured => "no measured compliance of a line was found",
            Self::BlockedAtThePatient => "blocked totally, at the patient's end, without a leak",
            Self::AlarmByPressureAlone => "the alarm goes by pressure alone",
            Self::AlarmPressureFromPublications => "the driver's alarm pressure was not entered: 300 to 400 mmHg",
            Self::AirMayDoubleItsShare => {
                "air as an ideal gas; measured effects were larger, so its share may be double"
            }
            Self::UpperBound => "at most this much; not a dose",
            Self::BoreFromVolume => "the bore is that of a tube of this length and filling volume",
            Self::LikeWater => "between water at 37 C and glucose 5 % at 20 C",
            Self::NoCloserThanFourteenPercent => "widened by 14 %, as far as theory and experiment have differed",
            Self::TolerancesOnly => {
                "tolerances only; errors of mixing and counting were larger wherever they were measured"
            }
        })
    }
}
