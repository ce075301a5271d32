# SPDX-License-Identifier: GPL-3.0-or-later
# curve.R COMMAND FOLDER: random tables of attempts, given to `COMMAND curve --table`, and each figure made again by R: nls for
# the curves and (refitted with a figure held at its limit) for their limits, nlme for the cohort, every row of passes and
# "not yet" that can be for the chances of the sums. And how much longer R takes.
suppressMessages(library(nlme))
arguments <- commandArgs(trailingOnly = TRUE)
command <- arguments[1]
folder <- arguments[2]
checked <- 0
wrong <- 0

compare <- function(what, ours, theirs, relative) {
  checked <<- checked + 1
  alike <- !is.null(ours) && !is.na(ours) && abs(ours - theirs) <= relative * max(abs(theirs), 1e-3)
  if (isTRUE(alike)) return(invisible())
  wrong <<- wrong + 1
  cat(sprintf("%s: %.12g, R has %.12g\n", what, if (is.null(ours)) NA else ours, theirs))
}

ours_took <- 0
run <- function(table, options) {
  path <- file.path(folder, "attempts.csv")
  write.csv(table, path, row.names = FALSE, quote = FALSE, na = "")
  begun <- proc.time()[["elapsed"]]
  text <- system2(command, c("curve", "--table", path, "--json", options), stdout = TRUE)
  ours_took <<- ours_took + proc.time()[["elapsed"]] - begun
  jsonlite::fromJSON(text, simplifyVector = FALSE)[[1]]
}

# Curves of one trainee -------------------------------------------------------

shapes <- list(exponential = function(start, rate, plateau, k) plateau - (plateau - start) * exp(-rate * (k - 1)),
               power = function(start, rate, plateau, k) plateau - (plateau - start) * k^-rate)
tight <- nls.control(tol = 1e-9, minFactor = 1e-12, maxiter = 500, warnOnly = TRUE)

# With one figure held, the sum of squares is as much greater as Student's t asks for at the limit.
check_limit <- function(what, shape, data, at, figure, limit, rss, df) {
  free <- setdiff(names(at), figure)
  held <- setNames(list(limit), figure)
  # Start and plateau are linear: the rest is searched along the rate.
  squares <- function(rate) {
    w <- shape(1, rate, 0, data$k)
    through <- function(x, y) sum((y - x * sum(x * y) / sum(x * x))^2)
    if (figure == "start") through(1 - w, data$value - limit * w)
    else if (figure == "plateau") through(w, data$value - limit * (1 - w))
    else sum(lm.fit(cbind(w, 1 - w), data$value)$residuals^2)
  }
  least <- if (figure == "rate") squares(limit) else {
    grid <- exp(seq(log(1e-5), log(12), length.out = 200))
    near <- grid[which.min(vapply(grid, squares, 0))]
    optimize(squares, c(near * 0.9, near * 1.1), tol = 1e-12)$objective
  }
  compare(what, (least - rss) / (rss / df), qt(0.975, df)^2, 2e-4)
}

check_curve <- function(name, fit, data) {
  if (!is.null(fit$start$why) || !is.null(fit$rate$why)) return(0)
  at <- c(start = fit$start$value, rate = fit$rate$value, plateau = fit$plateau$value)
  shape <- shapes[[fit$form]]
  begun <- proc.time()[["elapsed"]]
  found <- suppressWarnings(try(nls(value ~ shape(start, rate, plateau, k), data, start = as.list(at * c(1.02, 1.05, 0.98)),
                                    control = tight), silent = TRUE))
  took <- proc.time()[["elapsed"]] - begun
  if (inherits(found, "try-error")) return(0)
  figures <- summary(found)$coefficients
  rss <- deviance(found)
  compare(paste(name, "residuals"), fit$residual_ss, rss, 1e-7)
  for (figure in names(at)) {
    compare(paste(name, figure), at[[figure]], figures[figure, 1], 1e-4)
    compare(paste(name, figure, "error"), fit[[figure]]$se, figures[figure, 2], 1e-3)
    if (!is.null(fit[[figure]]$low)) {
      check_limit(paste(name, figure, "low"), shape, data, at, figure, fit[[figure]]$low, rss, fit$df)
      check_limit(paste(name, figure, "high"), shape, data, at, figure, fit[[figure]]$high, rss, fit$df)
    }
  }
  n <- nrow(data)
  if (n > 5) compare(paste(name, "AICc"), fit$aicc$value, AIC(found) + 2 * 4 * 5 / (n - 5), 1e-7)
  took
}

check_plain <- function(name, forms, data) {
  n <- nrow(data)
  flat <- lm(value ~ 1, data)
  line <- lm(value ~ I(k - 1), data)
  compare(paste(name, "line"), forms[[2]]$rate$value, coef(line)[[2]], 1e-9)
  compare(paste(name, "line's limit"), forms[[2]]$rate$high, confint(line)[2, 2], 1e-9)
  compare(paste(name, "mean"), forms[[1]]$start$value, coef(flat)[[1]], 1e-9)
  if (n > 3) compare(paste(name, "AICc of the mean"), forms[[1]]$aicc$value, AIC(flat) + 2 * 2 * 3 / (n - 3), 1e-9)
  if (n > 4) compare(paste(name, "AICc of the line"), forms[[2]]$aicc$value, AIC(line) + 2 * 3 * 4 / (n - 4), 1e-9)
}

# A cohort --------------------------------------------------------------------

check_cohort <- function(name, found, table, mark) {
  begun <- proc.time()[["elapsed"]]
  fit <- try(lme(value ~ log2(attempt), random = ~ log2(attempt) | trainee, data = table,
                 control = lmeControl(opt = "optim", msMaxIter = 500, returnObject = TRUE)), silent = TRUE)
  took <- proc.time()[["elapsed"]] - begun
  if (inherits(fit, "try-error") || isTRUE(found$cohort$at_boundary)) return(took)
  spreads <- as.numeric(VarCorr(fit)[, "StdDev"])
  compare(paste(name, "start"), found$cohort$start$value, fixef(fit)[[1]], 1e-4)
  compare(paste(name, "gain"), found$cohort$gain$value, fixef(fit)[[2]], 1e-4)
  compare(paste(name, "start's error"), found$cohort$start$se, sqrt(vcov(fit)[1, 1]), 1e-3)
  compare(paste(name, "gain's error"), found$cohort$gain$se, sqrt(vcov(fit)[2, 2]), 1e-3)
  compare(paste(name, "spread of starts"), found$cohort$start_sd, spreads[1], 1e-3)
  compare(paste(name, "spread of gains"), found$cohort$gain_sd, spreads[2], 1e-3)
  compare(paste(name, "residual"), found$cohort$residual_sd, spreads[3], 1e-3)
  own <- coef(fit)
  for (one in found$trainees) {
    compare(paste(name, one$trainee, "start"), one$with_cohort$start$value, own[one$trainee, 1], 1e-3)
    compare(paste(name, one$trainee, "gain"), one$with_cohort$gain$value, own[one$trainee, 2], 5e-3)
    expected <- own[one$trainee, 1] + own[one$trainee, 2] * log2(1:30)
    if (min(abs(expected - mark)) > 0.05) {
      first <- which(expected >= mark)
      compare(paste(name, one$trainee, "to the mark"), if (is.null(one$with_cohort$to_mark$at)) 0 else one$with_cohort$to_mark$at,
              if (length(first)) first[1] else 0, 0)
    }
  }
  took
}

theirs_took <- 0
for (seed in 1:4) {
  set.seed(seed)
  trainees <- sample(14:24, 1)
  table <- do.call(rbind, lapply(seq_len(trainees), function(t) {
    n <- sample(3:14, 1)
    start <- rnorm(1, 45, 7)
    plateau <- rnorm(1, 86, 3)
    rate <- rlnorm(1, log(0.4), 0.3)
    shape <- shapes[[sample(2, 1)]]
    value <- pmin(100, pmax(0, shape(start, rate, plateau, 1:n) + rnorm(n, 0, 3)))
    data.frame(trainee = sprintf("T-%02d", t), attempt = 1:n, value = round(value, 3))
  }))
  found <- run(table, c("--standard", "75"))
  for (one in found$trainees) {
    own <- table[table$trainee == one$trainee, ]
    data <- data.frame(k = own$attempt, value = own$value)
    name <- paste(seed, one$trainee)
    check_plain(name, one$curve$forms, data)
    for (form in 3:4) theirs_took <- theirs_took + check_curve(paste(name, one$curve$forms[[form]]$form), one$curve$forms[[form]], data)
  }
  theirs_took <- theirs_took + check_cohort(paste("cohort", seed), found, table, 75)
}

# Chances of the sums ---------------------------------------------------------

# Every row of `within` outcomes, each with its chance.
chance_of_signal <- function(pass, not_yet, limit, rate, within) {
  chance <- 0
  for (code in 0:(2^within - 1)) {
    failed <- bitwAnd(bitwShiftR(code, 0:(within - 1)), 1) == 1
    sum <- 0
    signalled <- FALSE
    for (f in failed) {
      sum <- max(0, sum + if (f) not_yet else pass)
      if (sum >= limit) { signalled <- TRUE; break }
    }
    if (signalled) chance <- chance + prod(ifelse(failed, rate, 1 - rate))
  }
  chance
}

one <- data.frame(trainee = "T", attempt = 1, value = 50, passed = "yes")
for (p1 in c(0.3, 0.5)) {
  charts <- run(one, c("--p1", p1, "--within", 11, "--error", "0.08"))$charts
  for (chart in c("lc_cusum", "cusum")) {
    of <- charts[[chart]]
    for (rate in c(0.1, p1)) {
      ours <- if (rate == 0.1) of$signals_at_standard$value else of$signals_not_at_standard$value
      compare(paste(chart, p1, rate), ours, chance_of_signal(of$on_pass, of$on_not_yet, of$limit, rate, 11), 1e-10)
    }
  }
}

cat(sprintf("%d figures, %d not alike; R's fits took %.0f times as long as the whole command, process start and all\n", checked,
            wrong, theirs_took / ours_took))
quit(status = wrong > 0 || checked < 1500 || theirs_took / ours_took < 10)
