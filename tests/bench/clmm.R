# The peer of tests/bench/clmm.rs: ordinal::clmm, an ordinary cumulative-link mixed model, with standard errors as it gives them by default.
# Reads the file named first, prints seconds of the fit alone, then T50 of ground-kill for each cultivar.
suppressMessages(library(ordinal))
reports <- read.csv(commandArgs(TRUE)[1])
reports$damage <- ordered(reports$damage)
for (column in c("cultivar", "reporter", "hardiness_class")) reports[[column]] <- factor(reports[[column]])
reports$event <- interaction(reports$reporter, reports$winter, drop = TRUE)
seconds <- system.time(
  model <- clmm(damage ~ exposure_c + hardiness_class + (1 | cultivar) + (1 | reporter) + (1 | event), data = reports)
)[["elapsed"]]
b <- coef(model)
deviation <- ranef(model)$cultivar
class <- tapply(as.character(reports$hardiness_class), reports$cultivar, `[`, 1)[rownames(deviation)]
shift <- b[paste0("hardiness_class", class)]
shift[is.na(shift)] <- 0
t50 <- (shift + deviation[, 1] - b[["2|3"]]) / -b[["exposure_c"]]
cat(sprintf("seconds %.3f\n", seconds))
cat(sprintf("%s %.6f\n", rownames(deviation), t50), sep = "")
