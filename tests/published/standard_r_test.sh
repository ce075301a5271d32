#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Pass marks by another reader: R draws tables, finds each mark its own way (aov, glm, lm, uniroot, optim for Firth's
# likelihood), and the command must say the same. Skipped where there is no Rscript.
set -u
command -v Rscript >/dev/null || exit 77
for seed in 11 12 13; do
  mkdir -p "$WORK/$seed"
  cd "$WORK/$seed" || exit 1
  Rscript --vanilla - "$seed" >expected.txt <<'R' || exit 1
options(digits = 17)
set.seed(as.integer(commandArgs(TRUE)[1]))
say <- function(key, value) cat(key, format(value, digits = 17), "\n")

# Angoff: components from the mean squares of aov, 7 judges and 11 items of unequal points.
judges <- 7; items <- 11
d <- expand.grid(judge = paste0("J", 1:judges), item = paste0("i", 1:items))
d$percent <- round(pmin(99, pmax(1, 60 + rnorm(judges, 0, 6)[as.integer(d$judge)] +
                                    rnorm(items, 0, 9)[as.integer(d$item)] + rnorm(nrow(d), 0, 5))), 1)
points <- sample(1:4, items, TRUE)
d$points <- points[as.integer(d$item)]
write.csv(d, "angoff.csv", row.names = FALSE, quote = FALSE)
ms <- summary(aov(percent ~ judge + item, d))[[1]][["Mean Sq"]]
cuts <- tapply(d$percent * d$points, d$judge, sum) / sum(points)
share <- points / sum(points)
vj <- (ms[1] - ms[3]) / items; vi <- (ms[2] - ms[3]) / judges
say("angoff cut value", mean(cuts))
say("angoff cut se", sd(cuts) / sqrt(judges))
say("angoff cut low", t.test(cuts)$conf.int[1])
say("angoff figures.judge_variance value", vj)
say("angoff figures.item_variance value", vi)
say("angoff figures.cut_judges_and_items se",
    sqrt(max(vj, 0) / judges + max(vi, 0) * sum(share^2) + ms[3] * sum(share^2) / judges))

# Angoff with holes: the judges' effects by lm.
h <- d[sample(nrow(d), nrow(d) - 9), ]
write.csv(h, "holes.csv", row.names = FALSE, quote = FALSE)
fit <- lm(percent ~ judge + item, h)
full <- d; full$percent <- predict(fit, d)
at <- match(paste(h$judge, h$item), paste(d$judge, d$item)); full$percent[at] <- h$percent
say("holes cut value", mean(tapply(full$percent * full$points, full$judge, sum) / sum(points)))

# Contrasting groups.
n0 <- 30; n1 <- 34
g <- data.frame(trainee = paste0("T", 1:(n0 + n1)), group = rep(c("junior", "senior"), c(n0, n1)),
                score = round(pmin(100, pmax(0, c(rnorm(n0, 55, 6), rnorm(n1, 66, 9)))), 1))
write.csv(g, "groups.csv", row.names = FALSE, quote = FALSE)
low <- g$score[g$group == "junior"]; high <- g$score[g$group == "senior"]
difference <- t.test(high, low)
say("groups figures.midpoint.formula value", (mean(low) + mean(high)) / 2)
say("groups figures.midpoint.formula se", difference$stderr / 2)
say("groups figures.midpoint.formula low", mean(c(mean(low), mean(high))) - qt(.975, difference$parameter) * difference$stderr / 2)
say("groups figures.crossing.formula value",
    uniroot(function(x) dnorm(x, mean(low), sd(low)) - dnorm(x, mean(high), sd(high)),
            c(mean(low), mean(high)), tol = 1e-13)$root)
logit <- glm(group == "senior" ~ score, binomial, g, epsilon = 1e-14, maxit = 100)
b <- coef(logit); v <- vcov(logit); cut <- -b[[1]] / b[[2]]
say("groups figures.logistic.formula value", cut)
say("*groups figures.logistic.formula se", sqrt(c(1, cut) %*% v %*% c(1, cut))[1] / b[[2]])
mid <- (mean(low) + mean(high)) / 2
say("groups figures.midpoint.false_pass_share value", pnorm(mid, mean(low), sd(low), lower.tail = FALSE))
say("groups figures.midpoint false_not_yet", sum(high < mid))
draws <- replicate(4000, (mean(sample(low, replace = TRUE)) + mean(sample(high, replace = TRUE))) / 2)
say("~groups figures.midpoint.resampled se", sd(draws))

# Groups apart: Firth's likelihood, climbed by optim.
s <- data.frame(trainee = paste0("T", 1:20), group = rep(c("junior", "senior"), each = 10),
                score = round(c(runif(10, 30, 50), runif(10, 56, 90)), 1))
write.csv(s, "apart.csv", row.names = FALSE, quote = FALSE)
z <- (s$score - mean(s$score)) / sd(s$score); y <- s$group == "senior"; X <- cbind(1, z)
penalised <- function(b) {
  p <- plogis(drop(X %*% b))
  -sum(ifelse(y, plogis(drop(X %*% b), log.p = TRUE), plogis(drop(-X %*% b), log.p = TRUE))) -
    .5 * as.numeric(determinant(t(X) %*% (X * (p * (1 - p))))$modulus)
}
firth <- optim(c(0, 1), penalised, method = "BFGS", control = list(reltol = 1e-15, maxit = 1000))$par
firth <- optim(firth, penalised, control = list(reltol = 1e-16, maxit = 5000))$par
say("*apart figures.logistic.formula value", mean(s$score) - sd(s$score) * firth[1] / firth[2])

# Borderline regression.
r <- data.frame(trainee = paste0("T", 1:40), rating = sample(1:5, 40, TRUE))
r$score <- round(pmin(100, pmax(0, 25 + 11 * r$rating + rnorm(40, 0, 6))), 1)
write.csv(r, "borderline.csv", row.names = FALSE, quote = FALSE)
line <- lm(score ~ rating, r)
fitted <- predict(line, data.frame(rating = 2), se.fit = TRUE, interval = "confidence")
say("borderline figures.formula value", fitted$fit[1])
say("borderline figures.formula se", fitted$se.fit)
say("borderline figures.formula low", fitted$fit[2])
say("borderline figures.slope se", summary(line)$coefficients[2, 2])
say("borderline figures r_squared", summary(line)$r.squared)
say("borderline figures rmse", summary(line)$sigma)
again <- replicate(4000, {
  k <- sample(40, replace = TRUE); x <- r$rating[k]; y <- r$score[k]
  mean(y) + (2 - mean(x)) * cov(x, y) / var(x)
})
say("~borderline figures.resampled se", sd(again))

# Hofstee.
f <- data.frame(trainee = paste0("T", 1:60), score = round(pmin(100, rnorm(60, 66, 11)), 1))
write.csv(f, "scores.csv", row.names = FALSE, quote = FALSE)
j <- data.frame(judge = c("J1", "J2", "J3"), least_cut = c(50, 52, 48), most_cut = c(64, 66, 65),
                least_not_yet = c(2, 3, 4), most_not_yet = c(45, 40, 50))
write.csv(j, "hofstee.csv", row.names = FALSE, quote = FALSE)
at <- sort(unique(f$score)); below <- sapply(at, function(x) mean(f$score < x))
curve <- approxfun(at, below, rule = 2)
m <- colMeans(j[, -1])
root <- uniroot(function(k) curve(k) - (m[4] + (k - m[1]) / (m[2] - m[1]) * (m[3] - m[4])) / 100, m[1:2], tol = 1e-13)$root
say("hofstee cut value", root)
say("hofstee effect.pass_rate value", mean(f$score >= root))
say("hofstee effect.pass_rate low", prop.test(sum(f$score >= root), 60, correct = FALSE)$conf.int[1])
R
  standard() { "$BENCHTALLY" standard "$@" --json || echo '"failed"'; }
  standard angoff --table angoff.csv >angoff.json
  standard angoff --table holes.csv >holes.json
  standard contrasting --table groups.csv --competent senior --draws 4000 >groups.json
  standard contrasting --table apart.csv --competent senior --draws 50 >apart.json
  standard borderline --table borderline.csv --borderline 2 --draws 4000 >borderline.json
  standard hofstee --table hofstee.csv --scores scores.csv --draws 50 >hofstee.json
  python3 - <<'PY' || exit 1
import json, math, sys
# Relative to the value: 1e-9; "*" what a search of R's stops
# short of 1e-5; "~" two seeds of 4,000 draws, 6 in 100.
wrong = seen = 0
for line in open("expected.txt"):
    way, path, key, value = line.split()
    tolerance = {"~": 0.06, "*": 1e-5}.get(way[0], 1e-9)
    found = json.load(open(way.strip("~*") + ".json"))
    for name in path.split("."):
        found = found[name]
    seen += 1
    if found[key] is None or not math.isclose(found[key], float(value), rel_tol=tolerance):
        print(f"{way} {path} {key}: {found[key]}, R says {value}")
        wrong += 1
sys.exit(wrong > 0 or seen < 25)
PY
done
