//! What an estimate assumes. In: nothing; out: one [`Assumption`] for each, with its sentence.

use super::listed::listed;

listed! {
    /// Something that an estimate assumes.
    Assumption: &'static str {
        /// The drug moves as one plug; the driver is already running.
        PlugFlow = "the drug moves as one plug and the driver is already at its rate: too early rather than too late",
        /// Laminar flow in a straight round tube, nothing sticks to the wall.
        LaminarTube = "laminar flow in a straight round tube, nothing sticks to its wall",
        /// Between a plug and a well-mixed space.
        PlugOrMixed = "somewhere between a plug and a well-mixed space",
        /// The volume after the line, which was not entered.
        CatheterFromTable = "the volume after the line was not entered: that of published catheters",
        /// A catheter of known volume and unknown length.
        CatheterSpreadUnknown = "length and bore after the line are unknown: from the earliest to the latest spread",
        /// The drug is dissolved, with small molecules.
        SmallMolecules = "the drug is dissolved and its molecules are small",
        /// Start-up costs the same volume at each rate.
        OneVolumeForEachRate = "start-up costs about the same volume at each rate",
        /// The publication does not say which syringe.
        SyringeSizeNotStated = "the abstract that was read does not state the syringe's size",
        /// Nobody measured a syringe of this size.
        SizeInterpolated =
            "no syringe of this size was measured: from the smaller one's least to the larger one's most",
        /// The spread between drivers that were not purged.
        OneDriverMayDifferFromAnother =
            "not purged: the spread is that between drivers, and nobody knows where this one lies",
        /// Rubber does not stiffen and plastic does not creep.
        ComplianceConstant = "compliance does not change with pressure or time; rubber stiffens and plastic creeps",
        /// No measured line.
        LineComplianceUnmeasured = "no measured compliance of a line was found",
        /// Blocked totally, at the patient, without a leak.
        BlockedAtThePatient = "blocked totally, at the patient's end, without a leak",
        /// The alarm goes by pressure alone.
        AlarmByPressureAlone = "the alarm goes by pressure alone",
        /// The driver's own alarm pressure was not entered.
        AlarmPressureFromPublications = "the driver's alarm pressure was not entered: 300 to 400 mmHg",
        /// Compressed air follows Boyle, which measured less than was seen.
        AirMayDoubleItsShare = "air as an ideal gas; measured effects were larger, so its share may be double",
        /// At most this; never a dose.
        UpperBound = "at most this much; not a dose",
        /// The bore is that of a tube of this length and filling volume.
        BoreFromVolume = "the bore is that of a tube of this length and filling volume",
        /// As viscous as water at the temperature of a room or a body, or a fifth more.
        LikeWater = "between water at 37 C and glucose 5 % at 20 C",
        /// No claim is closer than what theory has been held against.
        NoCloserThanFourteenPercent = "widened by 14 %, as far as theory and experiment have differed",
        /// Tolerances only: mixing and counting errors are larger.
        TolerancesOnly = "tolerances only; errors of mixing and counting were larger wherever they were measured",
    }
}

impl Assumption {
    /// Whether what is measured tends to be later, or more, than this says.
    #[must_use]
    pub const fn is_optimistic(self) -> bool {
        matches!(self, Self::PlugFlow | Self::AirMayDoubleItsShare | Self::TolerancesOnly)
    }
}

impl std::fmt::Display for Assumption {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.says())
    }
}
