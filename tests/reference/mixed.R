# Linear mixed models by lme4 and lmerTest: Rscript tests/reference/mixed.R, run in tests/reference; prints mixed.csv.
suppressMessages({library(lme4); library(lmerTest)})
options(digits = 15)
tight <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 0.2, rhoend = 2e-9))
exact <- "jump + log_usual + effort_within + effort_between + stress_within + stress_between +
  sleep_hours_within + sleep_hours_between + worry_within + worry_between"
during <- paste(exact, "+ pain_within + pain_between + step")
before <- paste(exact, "+ pain_before_within + pain_before_between + step")
ranef <- c(intercept = "(1 | person)", uncorrelated = "(1 | person) + (0 + jump | person)", correlated = "(1 + jump | person)")

# The sleep-deprivation reaction times of lme4 (Belenky et al. 2003), written out for the tests.
write.csv(sleepstudy, "sleepstudy.csv", row.names = FALSE, quote = FALSE)

show <- function(data, model, structure, method, fit) {
  table <- coef(summary(fit))
  frame <- data.frame(data, model, structure, method, quantity = "coefficient", name = rownames(table),
    value = table[, "Estimate"], std_error = table[, "Std. Error"], df = table[, "df"])
  extra <- c(sigma = sigma(fit), deviance = if (method == "reml") REMLcrit(fit) else deviance(fit, REML = FALSE))
  theta <- getME(fit, "theta")
  names(theta) <- paste0("theta", seq_along(theta))
  extra <- c(extra, theta)
  rbind(frame, data.frame(data, model, structure, method, quantity = "scalar", name = names(extra), value = extra, std_error = NA, df = NA))
}

out <- list()
for (file in c("panel_40x26.csv", "panel_12x20.csv")) {
  d <- read.csv(file)
  for (model in c("none", "during", "before")) for (s in names(ranef)) {
    x <- switch(model, none = paste(exact, "+ step"), during = during, before = before)
    rows <- d[complete.cases(d[, c("pain_next", all.vars(as.formula(paste("~", x))))]), ]
    for (method in if (model == "none") c("reml", "ml") else "reml") {
      fit <- suppressMessages(suppressWarnings(lmerTest::lmer(as.formula(paste("pain_next ~", x, "+", ranef[[s]])), rows, REML = method == "reml", control = tight)))
      out[[length(out) + 1]] <- show(file, model, s, method, fit)
    }
  }
}
for (s in c("uncorrelated", "correlated")) {
  r <- if (s == "correlated") "(Days | Subject)" else "(1 | Subject) + (0 + Days | Subject)"
  fit <- lmerTest::lmer(as.formula(paste("Reaction ~ Days +", r)), sleepstudy, control = tight)
  out[[length(out) + 1]] <- show("sleepstudy.csv", "days", s, "reml", fit)
}
write.csv(do.call(rbind, out), "mixed.csv", row.names = FALSE, quote = FALSE)
