//! What a place may be expected to do, from what little was seen there: drawn towards what all places show, the more the
//! less was seen.

/// Events seen everywhere weigh as much as so many seen at the place itself. Ours: with fewer than three losses, lows or
/// reactions a place is mostly taken to be like the others.
pub const DRAWN_BY: f64 = 3.0;

/// Events per unit of exposure to be expected where `events` were seen in `exposure`: the mean of a gamma posterior whose
/// prior has the mean `usual` and the weight of [`DRAWN_BY`] events (conjugate to Poisson counts: Gelman et al., Bayesian
/// Data Analysis, 3rd ed. 2013, section 2.6). Nothing seen anywhere: none to be expected.
///
/// All are 0 or more; `usual` in the same unit as `events / exposure`.
pub fn drawn_rate(events: f64, exposure: f64, usual: f64) -> f64 {
    if usual > 0.0 {
        (events + DRAWN_BY) / (exposure + DRAWN_BY / usual)
    } else {
        0.0
    }
}

/// The same of a share, 0 to 1, of `of` sensors: the mean of a beta posterior whose prior weighs as [`DRAWN_BY`] sensors
/// (the same book, section 2.4).
pub fn drawn_share(events: f64, of: f64, usual: f64) -> f64 {
    (events + DRAWN_BY * usual) / (of + DRAWN_BY)
}

/// Hours of `wear_h` that are lost on average where a sensor is lost at a constant rate per hour worn.
pub fn hours_lost(rate_per_h: f64, wear_h: f64) -> f64 {
    let lost = rate_per_h * wear_h;
    if lost < 1e-9 {
        return 0.0;
    }
    wear_h + wear_h * libm::expm1(-lost) / lost
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The posterior mean by adding up prior times likelihood over a fine grid of rates.
    #[test]
    fn a_drawn_rate_is_the_mean_of_its_posterior() {
        for (events, exposure, usual) in [(0.0, 12.0, 0.1), (5.0, 20.0, 0.1), (2.0, 3.0, 0.7)] {
            let (mut mass, mut sum) = (0.0, 0.0);
            for step in 1..200_000 {
                let rate = f64::from(step) * 1e-5 * 3.0;
                // Gamma of shape 3 and mean `usual`, times Poisson.
                let log = (DRAWN_BY - 1.0 + events) * libm::log(rate) - rate * (DRAWN_BY / usual + exposure);
                let weight = libm::exp(log);
                mass += weight;
                sum += weight * rate;
            }
            let drawn = drawn_rate(events, exposure, usual);
            assert!(
                (drawn - sum / mass).abs() < 1e-4 * drawn,
                "{drawn} {}",
                sum / mass
            );
        }
        assert!(drawn_rate(0.0, 50.0, 0.0).abs() < 1e-12);
    }

    #[test]
    fn nothing_seen_is_no_difference_and_much_seen_is_itself() {
        assert!((drawn_rate(0.0, 0.0, 0.2) - 0.2).abs() < 1e-12);
        assert!((drawn_rate(5e6, 1e7, 0.2) - 0.5).abs() < 1e-6);
        assert!((drawn_share(0.0, 0.0, 0.3) - 0.3).abs() < 1e-12);
        assert!((drawn_share(5e6, 1e7, 0.3) - 0.5).abs() < 1e-6);
    }

    /// Against the sum over the hours of the share that is already lost.
    #[test]
    fn hours_lost_add_up() {
        for (rate, wear) in [(0.0, 336.0), (1e-13, 336.0), (0.001, 336.0), (0.02, 240.0)] {
            let steps = 100_000;
            let width = wear / f64::from(steps);
            let sum: f64 = (0..steps)
                .map(|step| -libm::expm1(-rate * (f64::from(step) + 0.5) * width) * width)
                .sum();
            assert!((hours_lost(rate, wear) - sum).abs() < 1e-3, "{rate} {wear}");
        }
    }
}
