# Cumulative-logit mixed model by ordinal::clmm, person intercepts: Rscript tests/reference/clmm.R, run in tests/reference; prints clmm.csv.
# Adaptive Gauss-Hermite quadrature with 15 points. Pain is rounded half up; jump and pain_within are raw, not scaled.
suppressMessages(library(ordinal))
options(digits = 15)
out <- list()
for (file in c("panel_40x26.csv", "panel_12x20.csv")) {
  d <- read.csv(file)
  columns <- c("jump", "log_usual", "stress_within", "pain_within", "pain_between")
  d <- d[complete.cases(d[, c("pain_next", columns)]), ]
  d$y <- factor(pmin(pmax(floor(d$pain_next + 0.5), 0), 10), ordered = TRUE)
  d$person <- factor(d$person)
  # Without the between part people's levels differ, so that the variance of intercepts is far from 0.
  fit <- clmm(y ~ jump + log_usual + stress_within + pain_within + (1 | person), data = d, nAGQ = 15,
    control = clmm.control(gradTol = 1e-8, grtol = 1e-8, maxIter = 500))
  s <- coef(summary(fit))
  out[[length(out) + 1]] <- data.frame(data = file, quantity = "coefficient", name = rownames(s), value = s[, 1], std_error = s[, 2])
  extra <- c(sd_intercept = sqrt(as.numeric(VarCorr(fit)$person)), loglik = as.numeric(logLik(fit)))
  out[[length(out) + 1]] <- data.frame(data = file, quantity = "scalar", name = names(extra), value = extra, std_error = NA)
}
write.csv(do.call(rbind, out), "clmm.csv", row.names = FALSE, quote = FALSE)
