# The peer of tests/support/peer.rs: ordinal::clmm, an ordinary cumulative-link mixed model, with standard errors as it gives them by default.
# Reads the file named first, with as many factors as said second; prints seconds of the fit alone, then T50 of ground-kill for each cultivar.
suppressMessages(library(ordinal))
arguments <- commandArgs(TRUE)
reports <- read.csv(arguments[1])
reports$damage <- ordered(reports$damage)
for (column in c("cultivar", "reporter", "hardiness_class")) reports[[column]] <- factor(reports[[column]])
reports$event <- interaction(reports$reporter, reports$winter, drop = TRUE)
formula <- damage ~ exposure_c + hardiness_class + (1 | cultivar) + (1 | reporter)
if (arguments[2] == "three") formula <- update(formula, . ~ . + (1 | event))
seconds <- system.time(model <- clmm(formula, data = reports))[["elapsed"]]
b <- coef(model)
if (anyNA(b)) stop("it did not converge")
deviation <- ranef(model)$cultivar
class <- tapply(as.character(reports$hardiness_class), reports$cultivar, `[`, 1)[rownames(deviation)]
shift <- b[paste0("hardiness_class", class)]
shift[is.na(shift)] <- 0
t50 <- (shift + deviation[, 1] - b[["2|3"]]) / -b[["exposure_c"]]
cat(sprintf("seconds %.3f\n", seconds))
cat(sprintf("%s %.6f\n", rownames(deviation), t50), sep = "")
