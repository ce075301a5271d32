# SPDX-License-Identifier: GPL-3.0-or-later
# agreement.R TOOL FOLDER: makes tables, lets TOOL and R say what they come to, compares.
argument <- commandArgs(TRUE)
tool <- argument[1]
folder <- argument[2]
tables <- 40
relative <- 1e-9
least_ratio <- 20

# Figures, by group ------------------------------------------------------------

with_error <- function(name, value, se, df = Inf, least = -1) {
  half <- qt(0.975, df) * se
  c(setNames(value, name), setNames(se, paste0(name, ".se")),
    setNames(max(value - half, least), paste0(name, ".low")), setNames(min(value + half, 1), paste0(name, ".high")))
}

first_two <- function(x) x[complete.cases(x[, 1:2]), 1:2, drop = FALSE]

kappa <- function(x) {
  y <- first_two(x)
  levels <- sort(unique(as.vector(x)))
  crossed <- table(factor(y[, 1], levels), factor(y[, 2], levels))
  plain <- vcd::Kappa(crossed)
  squares <- vcd::Kappa(crossed, weights = "Fleiss-Cohen")
  p <- crossed / sum(crossed)
  r <- rowSums(p)
  k <- colSums(p)
  pe <- sum(r * k)
  # Fleiss, Cohen and Everitt 1969, in the form that textbooks give for kappa itself
  null <- sqrt((pe + pe^2 - sum(r * k * (r + k))) / sum(crossed)) / (1 - pe)
  c(with_error("kappa", plain$Unweighted[["value"]], plain$Unweighted[["ASE"]]), kappa.null = null,
    with_error("linear", plain$Weighted[["value"]], plain$Weighted[["ASE"]]),
    with_error("quadratic", squares$Weighted[["value"]], squares$Weighted[["ASE"]]))
}

# Gwet 2014 in matrices. Where no subject lacks a second rating, its error must also be what the coefficient does when the
# weight of each subject is moved a little (the infinitesimal jackknife), which knows nothing of the formula.
many <- function(x) {
  levels <- sort(unique(as.vector(x[!is.na(x)])))
  counts <- t(apply(x, 1, function(row) tabulate(match(row, levels), length(levels))))
  rated <- rowSums(counts)
  counts <- counts[rated > 0, , drop = FALSE]
  rated <- rated[rated > 0]
  twice <- rated > 1
  n <- length(rated)
  m <- sum(twice)
  q <- length(levels)
  own <- ifelse(twice, rowSums(counts * (counts - 1)) / pmax(rated * (rated - 1), 1), 0)
  share <- counts / rated
  pa <- sum(own) / m
  one <- function(name, pi, chance, chance_of) {
    value <- (pa - chance) / (1 - chance)
    star <- n / m * (own - chance * twice) / (1 - chance) - 2 * (1 - value) * (chance_of - chance) / (1 - chance)
    se <- sqrt(sum((star - value)^2) / (n * (n - 1)))
    if (m == n) check_error(name, se, own, share, q)
    with_error(name, value, se, n - 1)
  }
  pi <- colMeans(share)
  c(with_error("agreed", pa, sd(own[twice]) / sqrt(m), m - 1, 0),
    one("fleiss", pi, sum(pi^2), as.vector(share %*% pi)),
    one("ac1", pi, sum(pi * (1 - pi)) / (q - 1), as.vector(share %*% (1 - pi)) / (q - 1)),
    one("bp", pi, 1 / q, rep(1 / q, n)))
}

check_error <- function(name, se, own, share, q) {
  n <- length(own)
  figure <- function(w) {
    pi <- colSums(w * share) / sum(w)
    chance <- switch(name, fleiss = sum(pi^2), ac1 = sum(pi * (1 - pi)) / (q - 1), bp = 1 / q)
    (sum(w * own) / sum(w) - chance) / (1 - chance)
  }
  step <- 1e-4
  slope <- sapply(seq_len(n), function(i) (figure(replace(rep(1, n), i, 1 + step)) - figure(replace(rep(1, n), i, 1 - step))) / (2 * step))
  if (abs(sqrt(sum((slope - mean(slope))^2) * n / (n - 1)) - se) > 1e-6) stop("the error of ", name, " is not what moving a weight does")
}

# Krippendorff 2011: the matrix of coincidences, and the four metrics as he writes them.
alpha <- function(x) {
  x <- x[rowSums(!is.na(x)) > 1, , drop = FALSE]
  values <- sort(unique(as.vector(x[!is.na(x)])))
  v <- length(values)
  coincidence <- matrix(0, v, v)
  for (i in seq_len(nrow(x))) {
    given <- match(x[i, !is.na(x[i, ])], values)
    counts <- tabulate(given, v)
    coincidence <- coincidence + (outer(counts, counts) - diag(counts, v)) / (length(given) - 1)
  }
  n <- rowSums(coincidence)
  one <- function(metric) {
    expected <- (outer(n, n) - diag(n, v)) / (sum(n) - 1)
    1 - sum(coincidence * metric) / sum(expected * metric)
  }
  ordinal <- outer(seq_len(v), seq_len(v), Vectorize(function(c, k) (sum(n[min(c, k):max(c, k)]) - (n[c] + n[k]) / 2)^2))
  c(alpha.nominal = one(1 - diag(v)), alpha.ordinal = one(ordinal), alpha.interval = one(outer(values, values, "-")^2),
    alpha.ratio = one((outer(values, values, "-") / outer(values, values, "+"))^2))
}

icc <- function(x) {
  x <- x[complete.cases(x), , drop = FALSE]
  if (nrow(x) < 2) return(NULL)
  results <- psych::ICC(x, lmer = FALSE)$results
  names <- c("icc1", "icc2", "icc3", "icc1k", "icc2k", "icc3k")
  unlist(lapply(seq_along(names), function(i)
    setNames(c(results$ICC[i], results$`lower bound`[i], results$`upper bound`[i]), paste0(names[i], c("", ".low", ".high")))))
}

w <- function(x) {
  x <- x[complete.cases(x), , drop = FALSE]
  if (nrow(x) < 2) return(NULL)
  test <- friedman.test(t(x)) # raters are the blocks
  c(w = test$statistic[[1]] / (ncol(x) * (nrow(x) - 1)), w.chi = test$statistic[[1]], w.p = test$p.value)
}

tau <- function(x) {
  y <- first_two(x)
  test <- suppressWarnings(cor.test(y[, 1], y[, 2], method = "kendall", exact = FALSE))
  c(tau = test$estimate[[1]], tau.p = test$p.value)
}

rho <- function(x) {
  y <- first_two(x)
  test <- cor.test(rank(y[, 1]), rank(y[, 2])) # Pearson's of the ranks, by Student's t
  c(rho = test$estimate[[1]], rho.p = test$p.value)
}

limits <- function(x) {
  y <- first_two(x)
  d <- y[, 1] - y[, 2]
  n <- length(d)
  half <- function(se) qt(0.975, n - 1) * se
  of <- function(name, value, se) setNames(c(value, se, value - half(se), value + half(se)), paste0(name, c("", ".se", ".low", ".high")))
  c(of("bias", mean(d), sd(d) / sqrt(n)), of("lower", mean(d) - 1.96 * sd(d), sd(d) * sqrt((1 + 1.96^2 / 2) / n)),
    of("upper", mean(d) + 1.96 * sd(d), sd(d) * sqrt((1 + 1.96^2 / 2) / n)))
}

shares <- function(x) {
  y <- first_two(x)
  same <- sum(y[, 1] == y[, 2])
  wilson <- suppressWarnings(prop.test(same, nrow(y), correct = FALSE))$conf.int
  exact <- binom.test(same, nrow(y))$conf.int
  c(wilson = same / nrow(y), wilson.low = wilson[1], wilson.high = wilson[2], exact = same / nrow(y), exact.low = exact[1],
    exact.high = exact[2])
}

groups <- list(kappa = kappa, many = many, alpha = alpha, icc = icc, w = w, tau = tau, rho = rho, limits = limits, shares = shares)

# Tables -----------------------------------------------------------------------

made <- function(subjects, raters, levels, holes) {
  own <- sample(levels, subjects, TRUE)
  x <- matrix(ifelse(runif(subjects * raters) < 0.6, rep(own, raters), sample(levels, subjects * raters, TRUE)), subjects)
  x[runif(length(x)) < holes] <- NA
  x
}

tell <- function(x, times = NULL) {
  path <- file.path(folder, "table.csv")
  write.table(x, path, sep = ",", na = "NA", row.names = FALSE, col.names = FALSE)
  said <- strsplit(system2(tool, c(path, times), stdout = TRUE), " ")
  setNames(as.numeric(sapply(said, `[`, 2)), sapply(said, `[`, 1))
}

set.seed(20260304)
faults <- 0
compared <- 0
for (round in seq_len(tables)) {
  x <- made(sample(51:150, 1), sample(2:6, 1), sample(3:7, 1), sample(c(0, 0.15), 1))
  ours <- tell(x)
  theirs <- unlist(unname(lapply(groups, function(make) make(x))))
  for (name in names(theirs)) {
    compared <- compared + 1
    wanted <- theirs[[name]]
    got <- if (name %in% names(ours)) ours[[name]] else NA
    if (is.na(got) || abs(got - wanted) > relative * max(1, abs(wanted))) {
      faults <- faults + 1
      if (faults < 20) cat(sprintf("table %d: %s is %.15g, R has %.15g\n", round, name, got, wanted))
    }
  }
}
cat(sprintf("%d figures of %d tables compared, %d differ\n", compared, tables, faults))
if (compared < 1000) faults <- faults + 1

# Time -------------------------------------------------------------------------

check_error <- function(...) NULL # no part of the race

# Microseconds of one run: as many runs as R's clock of milliseconds needs, the best of three rounds.
taken <- function(make, x) {
  round <- function(times) system.time(for (k in seq_len(times)) make(x), gcFirst = FALSE)[["elapsed"]] / times * 1e6
  times <- max(1, ceiling(30000 / max(round(1), 1000)))
  min(replicate(3, round(times)))
}

# psych fits a factor of all subjects, which takes minutes where there are thousands.
size <- function(name) if (name == "icc") 300 else 5000
slow <- 0
for (name in names(groups)) {
  x <- made(size(name), 3, 5, 0.05)
  ours <- tell(x, 30)[[name]]
  theirs <- taken(groups[[name]], x)
  cat(sprintf("%-7s R %9.0f us, here %7.0f us: %6.0f x\n", name, theirs, ours, theirs / ours))
  if (theirs / ours < least_ratio) slow <- slow + 1
}
quit(status = faults + slow > 0)
