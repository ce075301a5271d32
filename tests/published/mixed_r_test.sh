#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Mixed models against R's lme4 on random designs with holes: components, means, their errors and the criterion. lme4's own
# search ends where its criterion is flat, at 1e-5 of the components or so; its criterion is therefore taken on from there by
# Newton's steps. Skipped where R or lme4 is not there.
set -u
command -v Rscript >/dev/null || exit 77
Rscript -e 'quit(status = !requireNamespace("lme4", quietly = TRUE))' >/dev/null 2>&1 || exit 77
export MIXED_TOOL="$BUILD_DIR/tests/mixed_tool"
cat >compare.R <<'R'
suppressMessages(library(lme4))
set.seed(20260401)
tool <- Sys.getenv("MIXED_TOOL")
worst <- c(component = 0, b = 0, se = 0, criterion = 0, effect = 0)
boundary <- 0
faults <- character()

ours <- function(data, words) {
  write.csv(format(data, digits = 17, trim = TRUE), "table.csv", row.names = FALSE, quote = FALSE)
  told <- read.table(text = system2(tool, c("table.csv", "reml", words), stdout = TRUE))
  setNames(told$V2, told$V1)
}

# Gradient and curvature of lme4's criterion by differences of fourth order, over the factors that are not at 0.
newton <- function(f, theta, free) {
  h <- 2e-3 * pmax(abs(theta), 0.1)
  along <- function(i, k, at) { at[i] <- at[i] + k * h[i]; at }
  slope <- function(at, i) (8 * (f(along(i, 1, at)) - f(along(i, -1, at))) -
                            (f(along(i, 2, at)) - f(along(i, -2, at)))) / (12 * h[i])
  for (step in 1:6) {
    g <- sapply(free, function(i) slope(theta, i))
    H <- sapply(free, function(j) sapply(free, function(i)
      (slope(along(j, 1, theta), i) - slope(along(j, -1, theta), i)) / (2 * h[j])))
    move <- solve(matrix(H, length(free)), g)
    if (any(!is.finite(move)) || max(abs(move)) > 0.2) break
    theta[free] <- theta[free] - move
  }
  theta
}

theirs <- function(data, formula) {
  opened <- lFormula(formula, data, REML = TRUE)
  f <- do.call(mkLmerDevfun, opened)
  best <- optimizeLmer(f, optimizer = "bobyqa", control = list(rhoend = 1e-9))
  theta <- best$par
  lower <- opened$reTrms$lower
  at_zero <- lower == 0 & theta < 1e-5
  if (any(at_zero)) theta[at_zero] <- 0
  theta <- newton(f, theta, which(!at_zero))
  value <- f(theta)
  best$par <- theta; best$fval <- value
  list(fit = mkMerMod(environment(f), best, opened$reTrms, fr = opened$fr), zero = any(at_zero), criterion = value)
}

far <- function(a, b, scale = abs(b)) max(abs(a - b) / scale)
note <- function(name, value, most, what) {
  worst[name] <<- max(worst[name], value)
  if (!(value <= most)) faults <<- c(faults, sprintf("%s: %s differ by %.3g", what, name, value))
}

compare <- function(what, data, formula, words) {
  us <- ours(data, words)
  them <- theirs(data, formula)
  boundary <<- boundary + them$zero
  vc <- as.data.frame(VarCorr(them$fit), order = "lower.tri")
  groups <- names(them$fit@flist)
  total <- var(data$score)
  named <- us[grepl("^component", names(us))]
  wanted <- unlist(lapply(words_of(words), function(g) vc$vcov[vc$grp == g]))
  note("component", far(c(named, us["residual"]), c(wanted, sigma(them$fit)^2), total), 1e-7, what)
  note("b", far(us[grepl("^b\\.", names(us))], fixef(them$fit), sqrt(total)), 1e-7, what)
  V <- as.matrix(vcov(them$fit))
  note("se", far(us[grepl("^b_cov", names(us))], as.vector(V), sqrt(diag(V) %o% diag(V))), 1e-7, what)
  note("criterion", abs(us["criterion"] - them$criterion), 1e-7, what)
  first <- words_of(words)[1]
  effects <- ranef(them$fit, condVar = FALSE)[[first]][as.character(unique(data[[first]])), , drop = FALSE]
  mine <- us[grepl("^effect\\.1\\.", names(us))]
  note("effect", far(mine, as.vector(t(as.matrix(effects))), sqrt(total)), 1e-7, what)
}
words_of <- function(words) words[which(words %in% c("group", "slope")) + 1]

holes <- function(d, keep) d[sort(sample(nrow(d), max(20, round(keep * nrow(d))))), ]
number <- function(d, name) { d[[name]] <- factor(d[[name]], levels = unique(d[[name]])); d }
random <- function(n, sd) rnorm(n, 0, sd)

for (k in 1:12) { # trainees x assessors with holes
  d <- expand.grid(a = 1:sample(3:6, 1), t = 1:sample(8:25, 1))
  d$score <- 60 + random(25, 4)[d$t] + random(6, sample(c(0, 0, 1, 3), 1))[d$a] + random(nrow(d), 3)
  d <- holes(d, runif(1, 0.5, 1)); d <- number(number(d, "t"), "a")
  compare(sprintf("crossed %d", k), d, score ~ 1 + (1 | t) + (1 | a), c("group", "t", "group", "a"))
}
for (k in 1:12) { # trainees x (assessors within exercises), each scored twice
  d <- expand.grid(again = 1:2, a = 1:3, x = 1:sample(2:4, 1), t = 1:sample(8:15, 1))
  d$ax <- paste(d$a, d$x); d$tx <- paste(d$t, d$x)
  d$score <- 60 + random(15, 4)[d$t] + random(4, 2)[d$x] + random(12, 2)[as.integer(factor(d$ax))] +
    random(60, sample(c(0, 2), 1))[as.integer(factor(d$tx))] + random(nrow(d), 3)
  d <- holes(d, runif(1, 0.6, 1)); for (g in c("t", "ax", "tx")) d <- number(d, g)
  compare(sprintf("nested %d", k), d[c("score", "t", "ax", "tx")], score ~ 1 + (1 | t) + (1 | ax) + (1 | tx),
          c("group", "t", "group", "ax", "group", "tx"))
}
for (k in 1:12) { # starts and rates of trainees over attempts
  d <- expand.grid(attempt = 0:sample(4:8, 1), t = 1:sample(10:25, 1))
  start <- random(25, 8)
  d$score <- 50 + start[d$t] + (4 - 0.1 * start + random(25, 1.5))[d$t] * d$attempt + random(nrow(d), 4)
  d <- number(holes(d, runif(1, 0.7, 1)), "t")
  compare(sprintf("slopes %d", k), d, score ~ attempt + (attempt | t), c("column", "attempt", "slope", "t", "attempt"))
}
for (k in 1:6) { # severity: trainees fixed, assessors random
  d <- expand.grid(a = 1:sample(5:8, 1), t = 1:sample(8:20, 1))
  d$score <- 60 + random(20, 4)[d$t] + random(8, 2)[d$a] + random(nrow(d), 3)
  d <- number(number(holes(d, runif(1, 0.6, 1)), "t"), "a")
  us <- ours(d, c("fixed", "t", "group", "a"))
  them <- theirs(d, score ~ 0 + t + (1 | a))
  what <- sprintf("severity %d", k)
  note("component", far(us[c("component.2.1", "residual")],
                        c(VarCorr(them$fit)$a[1], sigma(them$fit)^2), var(d$score)), 1e-7, what)
  note("b", far(us[grepl("^effect\\.1\\.", names(us))], fixef(them$fit), sd(d$score)), 1e-7, what)
  note("se", far(us[grepl("^effect_variance\\.1\\.", names(us))], diag(as.matrix(vcov(them$fit))), 1), 1e-6, what)
  note("effect", far(us[grepl("^effect\\.2\\.", names(us))], ranef(them$fit)$a[[1]], sd(d$score)), 1e-7, what)
}
print(worst)
cat(boundary, "designs at a boundary\n")
if (length(faults) > 0) { writeLines(faults); quit(status = 1) }
R
Rscript compare.R 2>&1 | grep -v '^boundary (singular)' | tee said
grep -Eq '^([5-9]|[12][0-9]) designs at a boundary' said && ! grep -q 'differ by' said
