# Phases with autoregressive errors by nlme: Rscript tests/reference/phases.R, run in tests/reference; writes phases_records.csv
# (records made here) and phases.csv (what nlme says of them, and the design-comparable difference from its estimates).
suppressMessages(library(nlme))
options(digits = 15)
set.seed(16)
ar <- function(n, phi, sd) as.numeric(stats::filter(c(rnorm(1, 0, sd), rnorm(n - 1, 0, sd * sqrt(1 - phi^2))), phi, "recursive"))
record <- function(layout, person, changed, phi, level, difference, sd = 0.9) {
  n <- length(changed)
  d <- data.frame(layout, person, step = seq_len(n) - 1, value = round(level + difference * changed + ar(n, phi, sd), 1), changed)
  d[-sample(2:(n - 1), round(n / 8)), ]
}
at <- function(n, start) as.numeric(seq_len(n) > start)
records <- do.call(rbind, c(
  lapply(1:8, function(i) record("baselines", paste0("m", i), at(20, 4 + i), 0.4, rnorm(1, 5, 1.2), rnorm(1, -1, 0.8))),
  lapply(1:5, function(i) record("returns", paste0("r", i), rep(c(0, 1, 0, 1), each = 7), 0.2, rnorm(1, 4, 0.7), rnorm(1, -1.5, 1))),
  lapply(1:3, function(i) record("three", paste0("t", i), at(16, 5 + i), 0.5, c(3, 5, 6)[i], c(-2, -0.8, -1.6)[i]))))
write.csv(records, "phases_records.csv", row.names = FALSE, quote = FALSE)

out <- list()
keep <- function(data, model, quantity, value, std_error = NA) {
  out[[length(out) + 1]] <<- data.frame(data, model, quantity, value, std_error, row.names = NULL)
}

for (who in c("m1", "m8", "r2", "t3")) {
  d <- records[records$person == who, ]
  d$phase <- c(0, cumsum(diff(d$changed) != 0))
  first <- tapply(d$step, d$phase, min)
  starts <- first[-1]
  X <- cbind(1, sapply(starts, function(s) as.numeric(d$step >= s)))
  m <- gls(value ~ X - 1, d, correlation = corAR1(0, ~step), control = glsControl(msTol = 1e-12, tolerance = 1e-12))
  k <- length(starts)
  keep(who, "level", paste("level", 1:k), coef(m)[1 + 1:k], sqrt(diag(vcov(m)))[1 + 1:k])
  keep(who, "level", c("rho", "sigma"), c(coef(m$modelStruct$corStruct, FALSE), m$sigma))
}

comparable <- function(m, d, Z) {
  X <- cbind(1, d$changed)
  s2 <- m$sigma^2
  phi <- coef(m$modelStruct$corStruct, FALSE)
  tau <- matrix(getVarCov(m), ncol(Z))
  same <- outer(d$person, d$person, "==")
  apart <- abs(outer(d$step, d$step, "-"))
  parts <- list(same * phi^apart, same * s2 * ifelse(apart > 0, apart * phi^pmax(apart - 1, 0), 0), same * outer(Z[, 1], Z[, 1]))
  if (ncol(Z) > 1) parts <- c(parts, list(same * (outer(Z[, 1], Z[, 2]) + outer(Z[, 2], Z[, 1])), same * outer(Z[, 2], Z[, 2])))
  V <- solve(s2 * parts[[1]] + same * (Z %*% tau %*% t(Z)))
  C <- solve(t(X) %*% V %*% X)
  P <- V - V %*% X %*% C %*% t(X) %*% V
  turned <- lapply(parts, function(p) P %*% p)
  spread <- solve(outer(seq_along(parts), seq_along(parts), Vectorize(function(i, j) sum(turned[[i]] * t(turned[[j]])) / 2)))
  moved <- sapply(parts, function(p) (C %*% t(X) %*% V %*% p %*% V %*% X %*% C)[2, 2])
  total <- s2 + tau[1, 1]
  nu <- 2 * total^2 / sum(spread[c(1, 3), c(1, 3)])
  J <- 1 - 3 / (4 * nu - 1)
  difference <- fixef(m)[[2]]
  delta <- difference / sqrt(total)
  kappa <- sqrt(C[2, 2] / total)
  error <- sqrt(J^2 * (kappa^2 * nu / (nu - 2) + (J * delta)^2 * (nu / (nu - 2) - 1 / J^2)))
  c(difference = difference, difference_error = sqrt(vcov(m)[2, 2]), difference_df = 2 * C[2, 2]^2 / c(moved %*% spread %*% moved),
    rho = phi, sigma2 = s2, tau2 = tau[1, 1], tau2_change = if (ncol(Z) > 1) tau[2, 2] else 0, covariance = if (ncol(Z) > 1) tau[1, 2] else 0,
    deviance = -2 * c(logLik(m)), delta = delta, kappa = kappa, df = nu, g = J * delta, std_error = error)
}
control <- lmeControl(maxIter = 500, msMaxIter = 500, msTol = 1e-12, tolerance = 1e-10, returnObject = TRUE)
for (layout in unique(records$layout)) {
  d <- records[records$layout == layout, ]
  for (model in c("same", "varying")) {
    random <- if (model == "same") ~ 1 | person else ~ changed | person
    m <- lme(value ~ changed, random = random, correlation = corAR1(0, ~ step | person), data = d, control = control)
    found <- comparable(m, d, cbind(1, d$changed)[, if (model == "same") 1 else 1:2, drop = FALSE])
    names(found) <- sub(".Phi1", "", names(found), fixed = TRUE)
    keep(layout, model, names(found), found)
  }
}
write.csv(do.call(rbind, out), "phases.csv", row.names = FALSE, quote = FALSE)
