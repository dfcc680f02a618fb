//! How far neighbours in a row of residuals err alike.

/// Integrated autocorrelation `1 + 2 Σ ρ_k` up to the first that is not positive, in samples: by so much is the variance of their mean larger.
/// Equation (8.4).
pub(crate) fn correlation_length(residual: &[f64]) -> f64 {
    let variance: f64 = residual.iter().map(|r| r * r).sum();
    if variance <= 0.0 {
        return 1.0;
    }
    let mut tau = 1.0;
    for lag in 1..residual.len() / 2 {
        let pairs = residual.iter().zip(&residual[lag..]);
        let rho = pairs.map(|(a, b)| a * b).sum::<f64>() / variance;
        if rho <= 0.0 {
            break;
        }
        tau += 2.0 * rho;
    }
    tau
}
