# Least squares with CR2 variance and Satterthwaite df by clubSandwich, run in tests/reference; prints within.csv.
# 'fixed' has a dummy for each person; 'within' has pain's between part instead, and the usual load less its mean over the person's rows.
suppressMessages(library(clubSandwich))
options(digits = 15)
x <- c("jump", "log_usual", "effort_within", "stress_within", "sleep_hours_within", "worry_within", "pain_within", "step")
out <- list()
for (file in c("panel_40x26.csv", "panel_12x20.csv", "panel_7x24.csv")) {
  d <- read.csv(file)
  d <- d[complete.cases(d[, c("pain_next", x)]), ]
  d$log_usual <- d$log_usual - ave(d$log_usual, d$person)
  for (estimator in c("fixed", "within")) {
    levels <- if (estimator == "fixed") "factor(person)" else "pain_between"
    fit <- lm(as.formula(paste("pain_next ~", levels, "+", paste(x, collapse = " + "))), d)
    t <- coef_test(fit, vcov = "CR2", cluster = d$person, test = "Satterthwaite")
    t <- t[rownames(t) %in% x, ]
    classical <- coef(summary(fit))[rownames(t), "Std. Error"]
    out[[length(out) + 1]] <- data.frame(
      data = file, estimator, name = rownames(t), value = t$beta, std_error = t$SE, df = t$df_Satt, classical)
  }
}
write.csv(do.call(rbind, out), "within.csv", row.names = FALSE, quote = FALSE)
