//! The words for what a guard saw, with the figures.

use super::{Fault, Sight, Watch};

impl Watch {
    /// The words for what a guard saw, with the figures.
    #[must_use]
    pub fn evidence(&self, fault: Fault, sight: &Sight<'_>) -> String {
        self.figures(fault, sight).unwrap_or_else(|| read(sight))
    }

    /// The figures of the guards that have their own; the others show what was read.
    fn figures(&self, fault: Fault, sight: &Sight<'_>) -> Option<String> {
        match fault {
            Fault::SupplyError => {
                let error = sight.reading?.error.as_ref()?;
                Some(format!("{} {}", error.code, error.text))
            }
            Fault::SetpointChanged | Fault::SupplyPowerCycled => {
                let (sent, holds) = (sight.set.a(), sight.reading?.set_current?.a());
                Some(format!("sent {sent:.4} A, the supply holds {holds:.4} A"))
            }
            Fault::ChargeCap => {
                let (flowed, most) = (sight.charge.ah(), sight.charge_cap.ah());
                Some(format!("{flowed:.3} Ah delivered, {most:.3} Ah allowed"))
            }
            Fault::TimeCap => {
                let (on, most) = (sight.on.h(), sight.on_cap.h());
                Some(format!("{on:.2} h on, {most:.2} h allowed"))
            }
            Fault::LinkLost | Fault::ReadingStale | Fault::LinkGarbled | Fault::RepliesLate => {
                self.of_link(fault, sight)
            }
            Fault::AnodeFilm
            | Fault::VoltageClimbing
            | Fault::VoltageNoisy
            | Fault::CoverNotGrowing => self.of_cell(fault),
            Fault::PeakDensityHigh
            | Fault::LevelLow
            | Fault::TemperatureOut
            | Fault::StirringOut
            | Fault::SensorSilent
            | Fault::BrightenerOverdue => self.of_bath(fault, sight),
            Fault::HostSlept | Fault::ClockJumped | Fault::LedgerSlow | Fault::DiskNearlyFull => {
                self.host.said(fault)
            }
            Fault::WrongChannel
            | Fault::ReadbackFrozen
            | Fault::CurrentWithoutVoltage
            | Fault::CurrentOffSetpoint
            | Fault::ConstantCurrentLost
            | Fault::CellVoltageHigh
            | Fault::CellVoltageCollapsed
            | Fault::OutputNotAsCommanded
            | Fault::ProtectionTripped
            | Fault::ReadingImplausible
            | Fault::EnvelopeExceeded
            | Fault::LedgerNotWriting
            | Fault::CommandFailed
            | Fault::WrongSupply
            | Fault::IdentityChanged
            | Fault::OnBeforeStart
            | Fault::LimitsNotTaken
            | Fault::NoContact
            | Fault::OutputStaysOn
            | Fault::RelayStuck
            | Fault::RelayOpen
            | Fault::RelayLost
            | Fault::KeeperLost
            | Fault::DaemonLost => None,
        }
    }

    /// The figures of the guards that look at the link.
    fn of_link(&self, fault: Fault, sight: &Sight<'_>) -> Option<String> {
        if fault == Fault::LinkLost {
            let silent = sight.now.since(self.link.heard()).s();
            return Some(format!("nothing has come for {silent:.1} s"));
        }
        if fault == Fault::ReadingStale {
            let ago = sight.now.since(self.link.good()).s();
            return Some(format!("the last usable reading came {ago:.1} s ago"));
        }
        if fault == Fault::LinkGarbled {
            let count = self.link.repeated();
            return Some(format!(
                "{count} replies were asked for again in five minutes"
            ));
        }
        Some(format!("a reading took {:.2} s", sight.took.s()))
    }

    /// The figures of the guards that remember the cell.
    fn of_cell(&self, fault: Fault) -> Option<String> {
        if fault == Fault::VoltageNoisy {
            let jumps = self.electrical.noise_v()? * 1e3;
            return Some(format!(
                "the voltage jumps by {jumps:.0} mV between readings"
            ));
        }
        if fault == Fault::CoverNotGrowing {
            let seen = self.electrical.cover_seen()? * 100.0;
            return Some(format!("at most {seen:.0} % of the surface takes part"));
        }
        let [before, now, lowest] = self.electrical.minutes()?;
        Some(format!(
            "{now:.3} ohm now, {before:.3} ohm ten minutes ago, {lowest:.3} ohm at least"
        ))
    }

    /// The figures of the guards that look at the bath.
    fn of_bath(&self, fault: Fault, sight: &Sight<'_>) -> Option<String> {
        let bath = &self.bath;
        if fault == Fault::PeakDensityHigh {
            let [peak, bears] = bath.density(sight)?.map(|density| density.a_per_dm2());
            return Some(format!("{peak:.2} A/dm2 at edges, {bears:.2} A/dm2 borne"));
        }
        if fault == Fault::LevelLow {
            let above = bath.above(sight)?.mm();
            return Some(format!("{above:.1} mm above the highest piece"));
        }
        if fault == Fault::TemperatureOut {
            let [low, high] = sight.bounds.temperature.map(|t| t.c());
            let now = bath.temperature(sight)?.c();
            return Some(format!(
                "{now:.1} C, the bath wants {low:.0} to {high:.0} C"
            ));
        }
        if fault == Fault::StirringOut {
            let ([low, high], now) = (sight.bounds.stirring?, bath.stirring(sight)?);
            return Some(format!("{now} where {low} to {high} should be"));
        }
        if fault == Fault::SensorSilent {
            let silent = bath.silent(sight)?.word();
            return Some(format!("nothing of {silent} for five minutes"));
        }
        let due = sight.bounds.brightener?;
        let (flowed, every) = ((due.since + sight.charge).ah(), due.every.ah());
        Some(format!(
            "{flowed:.1} Ah since it was added, due every {every:.1} Ah"
        ))
    }
}

/// What was read.
fn read(sight: &Sight<'_>) -> String {
    let Some(reading) = sight.reading else {
        return "no reading".to_owned();
    };
    let current = reading
        .current
        .map_or("none".into(), |i| format!("{:.3} A", i.a()));
    let voltage = reading
        .voltage
        .map_or("none".into(), |v| format!("{:.3} V", v.v()));
    format!(
        "current {current} at a setpoint of {:.3} A, voltage {voltage}",
        sight.set.a()
    )
}
