# Fixed-effects estimates with CR2 variance and Satterthwaite df by clubSandwich, run in tests/reference; prints within.csv.
suppressMessages(library(clubSandwich))
options(digits = 15)
x <- c("jump", "log_usual", "effort_within", "stress_within", "sleep_hours_within", "worry_within", "pain_within", "step")
out <- list()
for (file in c("panel_40x26.csv", "panel_12x20.csv", "panel_7x24.csv")) {
  d <- read.csv(file)
  d <- d[complete.cases(d[, c("pain_next", x)]), ]
  fit <- lm(as.formula(paste("pain_next ~ factor(person) +", paste(x, collapse = " + "))), d)
  t <- coef_test(fit, vcov = "CR2", cluster = d$person, test = "Satterthwaite")
  t <- t[rownames(t) %in% x, ]
  classical <- coef(summary(fit))[rownames(t), "Std. Error"]
  out[[length(out) + 1]] <- data.frame(data = file, name = rownames(t), value = t$beta, std_error = t$SE, df = t$df_Satt, classical)
}
write.csv(do.call(rbind, out), "within.csv", row.names = FALSE, quote = FALSE)
