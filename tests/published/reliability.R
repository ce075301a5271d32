# SPDX-License-Identifier: GPL-3.0-or-later
# reliability.R TOOL FOLDER: makes tables, lets TOOL and R say what they come to, compares.
argument <- commandArgs(TRUE)
tool <- argument[1]
folder <- argument[2]
least_ratio <- 20
checked <- 0
wrong <- 0

ours <- function(...) {
  out <- system2(tool, shQuote(c(...)), stdout = TRUE)
  pair <- strsplit(out, " ")
  setNames(as.numeric(sapply(pair, `[`, 2)), sapply(pair, `[`, 1))
}

compare <- function(what, found, expected, relative = 1e-9) {
  for (name in names(expected)) {
    a <- found[name]
    b <- expected[name]
    checked <<- checked + 1
    if (is.na(a) || abs(a - b) > relative * max(1, abs(b))) {
      cat(sprintf("%s: %s is %.15g, R has %.15g\n", what, name, a, b))
      wrong <<- wrong + 1
    }
  }
}

faster <- function(what, found, theirs) {
  ratio <- theirs / found["seconds"]
  cat(sprintf("%s: R takes %.0f times as long\n", what, ratio))
  if (ratio < least_ratio) wrong <<- wrong + 1
}

write_table <- function(table) {
  path <- file.path(folder, "table.csv")
  write.csv(table, path, row.names = FALSE, quote = FALSE, na = "")
  path
}

seconds_of <- function(expression) {
  code <- substitute(expression)
  frame <- parent.frame()
  system.time(eval(code, frame))[["elapsed"]]
}

quietly <- function(expression) suppressWarnings(suppressMessages(expression))

# Items ------------------------------------------------------------------------

feldt <- function(alpha, n, k) {
  df <- c(n - 1, (n - 1) * (k - 1))
  c(low = 1 - (1 - alpha) * qf(0.975, df[1], df[2]), high = 1 - (1 - alpha) * qf(0.025, df[1], df[2]))
}

item_figures <- function(x) {
  n <- nrow(x)
  k <- ncol(x)
  read <- quietly(psych::alpha(as.data.frame(x), warnings = FALSE, check.keys = FALSE))
  alpha <- read$total$raw_alpha
  limits <- feldt(alpha, n, k)
  c(alpha = alpha, alpha.low = limits[["low"]], alpha.high = limits[["high"]],
    setNames(colMeans(x), paste0("mean.", 1:k)), setNames(read$item.stats$r.drop, paste0("r.", 1:k)),
    setNames(read$alpha.drop$raw_alpha, paste0("without.", 1:k)))
}

long <- function(x) data.frame(p = rep(seq_len(nrow(x)), ncol(x)), i = rep(seq_len(ncol(x)), each = nrow(x)), score = as.vector(x))

person_items <- function(n, k, binary) {
  x <- outer(rnorm(n), rnorm(k), "+") + matrix(rnorm(n * k), n)
  if (binary) 1 * (x > 0) else x
}

for (seed in 1:12) {
  set.seed(seed)
  x <- person_items(sample(8:60, 1), sample(4:15, 1), seed %% 2 == 0)
  x <- x[, apply(x, 2, var) > 0]
  compare(paste("items", seed), ours("items", write_table(long(x)), "p x i"), item_figures(x))
}
set.seed(99)
x <- person_items(2000, 30, TRUE)
path <- write_table(long(x))
faster("alpha and items, 2000 x 30", ours("items", path, "p x i"),
       seconds_of(quietly(psych::alpha(as.data.frame(x), warnings = FALSE))))

# Components -------------------------------------------------------------------

# Each design as its effects: which columns tell their groups apart.
designs <- list(
  "p x i" = list(p = "p", i = "i", "p_x_i" = c("p", "i")),
  "i:p" = list(p = "p", "i:p" = c("i", "p")),
  "p x (r:t)" = list(p = "p", t = "t", "p_x_t" = c("p", "t"), "r:t" = c("r", "t"), "p_x_(r:t)" = c("p", "r", "t")),
  "p x i x o" = list(p = "p", i = "i", o = "o", "p_x_i" = c("p", "i"), "p_x_o" = c("p", "o"), "i_x_o" = c("i", "o"),
                     "p_x_i_x_o" = c("p", "i", "o")),
  "a:(p x o)" = list(p = "p", o = "o", "p_x_o" = c("p", "o"), "a:(p_x_o)" = c("a", "p", "o")))

effect_factor <- function(table, columns) interaction(table[columns], drop = TRUE)

simulate <- function(effects, levels, holes) {
  table <- expand.grid(lapply(levels, seq_len))
  table$score <- 50
  for (columns in effects) {
    group <- as.integer(effect_factor(table, columns))
    table$score <- table$score + rnorm(max(group), sd = sample(1:4, 1))[group]
  }
  if (holes) table[sort(sample(nrow(table), ceiling(0.8 * nrow(table)))), ] else table
}

# Henderson's first method by traces of matrices: the expected quadratic form of projections on group means.
henderson <- function(table, effects) {
  incidence <- lapply(effects, function(columns) model.matrix(~ 0 + g, data.frame(g = effect_factor(table, columns))))
  project <- function(z) z %*% (t(z) / colSums(z))
  mean_of <- project(matrix(1, nrow(table), 1))
  forms <- lapply(incidence, function(z) if (ncol(z) == nrow(table)) diag(nrow(table)) - mean_of else project(z) - mean_of)
  y <- table$score
  left <- sapply(incidence, function(z) sapply(forms, function(form) sum(z * (form %*% z))))
  setNames(solve(left, sapply(forms, function(form) sum(y * (form %*% y)))), paste0("v.", names(effects)))
}

# Mean squares of complete tables by R's own analysis of variance, each effect after the smaller ones.
mean_squares <- function(table, effects) {
  table[names(table) != "score"] <- lapply(table[names(table) != "score"], factor)
  terms <- sapply(effects, paste, collapse = ":")
  read <- anova(lm(as.formula(paste("score ~", paste(terms[-length(terms)], collapse = " + "))), table))
  setNames(read[["Mean Sq"]], paste0("ms.", names(effects)))
}

# What a plan reaches, everything random, negative components as 0.
plan_figures <- function(v, effects, plan) {
  v <- pmax(v, 0)
  with_p <- sapply(effects, function(columns) "p" %in% columns)
  each <- sapply(effects, function(columns) prod(plan[setdiff(columns, "p")]))
  alone <- sapply(effects, identical, "p")
  error <- sum((v / each)[with_p & !alone])
  c(erho2 = v[[which(alone)]] / (v[[which(alone)]] + error),
    phi = v[[which(alone)]] / (v[[which(alone)]] + error + sum((v / each)[!with_p])))
}

facets <- list(p = 9, i = 5, o = 3, r = 3, t = 4, a = 2)
plan <- c(p = 1, i = 7, o = 2, r = 2, t = 6, a = 3)
order_in <- function(design) {
  name <- regmatches(design, gregexpr("[a-z]", design))[[1]]
  name[name != "x"]
}

for (design in names(designs)) for (holes in c(FALSE, TRUE)) for (seed in 1:6) {
  set.seed(seed + 100 * holes)
  effects <- designs[[design]]
  names_of <- order_in(design)
  table <- simulate(effects, facets[names_of], holes)
  expected <- henderson(table, effects)
  if (!holes) expected <- c(expected, mean_squares(table, effects))
  figures <- plan_figures(expected[seq_along(effects)], effects, plan)
  found <- ours("anova", write_table(table), design, paste(plan[names_of], collapse = ","))
  compare(paste(design, if (holes) "with holes", seed), found, expected, 1e-8)
  compare(paste(design, if (holes) "with holes", seed), found, figures, 1e-8)
}

# Likelihood: lme4 stops within about 1e-4 of a standard deviation's optimum.
for (design in c("p x i", "p x (r:t)")) for (seed in 1:4) {
  set.seed(seed)
  effects <- designs[[design]]
  names_of <- order_in(design)
  table <- simulate(effects, facets[names_of], TRUE)
  for (effect in seq_along(effects)) table[[paste0("g", effect)]] <- effect_factor(table, effects[[effect]])
  terms <- paste0("(1 | g", seq_len(length(effects) - 1), ")", collapse = " + ")
  fit <- suppressMessages(lme4::lmer(as.formula(paste("score ~ 1 +", terms)), table,
                                     control = lme4::lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-9))))
  read <- as.data.frame(lme4::VarCorr(fit))
  v <- read$vcov[match(c(paste0("g", seq_len(length(effects) - 1)), "Residual"), read$grp)]
  found <- ours("reml", write_table(table[c(names_of, "score")]), design, "1,1,1")
  compare(paste("likelihood", design, seed), found, setNames(v, paste0("v.", names(effects))), 1e-4)
}

set.seed(7)
table <- simulate(designs[["p x (r:t)"]], list(p = 40, r = 5, t = 6), FALSE)
faster("p x (r:t), 1200 scores", ours("anova", write_table(table), "p x (r:t)", "1,1,1"),
       seconds_of(mean_squares(table, designs[["p x (r:t)"]])))

# Pass decisions ---------------------------------------------------------------

both_below <- function(h, k, r) pnorm(h) + pnorm(k) - 1 + mvtnorm::pmvnorm(c(h, k), c(Inf, Inf), corr = matrix(c(1, r, r, 1), 2),
                                                                         algorithm = mvtnorm::TVPACK(1e-15))[1]

for (z in c(-2, -0.7, 0.1, 1.3)) for (r in c(0.15, 0.5, 0.85, 0.97)) {
  twice <- tryCatch(both_below(z, z, r), error = function(e) NA)
  if (is.na(twice)) twice <- mvtnorm::pmvnorm(upper = c(z, z), corr = matrix(c(1, r, r, 1), 2), algorithm = mvtnorm::Miwa(4097))[1]
  chance <- pnorm(z)^2 + pnorm(-z)^2
  same <- 1 - 2 * (pnorm(z) - twice)
  s <- sqrt(r)
  with_true <- mvtnorm::pmvnorm(upper = c(z, z / s), corr = matrix(c(1, s, s, 1), 2), algorithm = mvtnorm::Miwa(4097))[1]
  compare(paste("normal", z, r), ours("normal", z, r),
          c(consistency = same, kappa = (same - chance) / (1 - chance), false_pass = pnorm(z / s) - with_true,
            false_not_yet = pnorm(z) - with_true), 1e-7)
}

# Livingston and Lewis: the two shapes searched for, the integrals over quantiles, the terms added up.
livingston_lewis <- function(x, cut, r) {
  m <- mean(x)
  length <- (m * (100 - m) - r * var(x)) / (var(x) * (1 - r))
  y <- x / 100 * length
  t <- sapply(1:4, function(k) mean(sapply(y, function(s) prod(s - 0:(k - 1)))) / prod(length - 0:(k - 1)))
  v <- t[2] - t[1]^2
  skew <- (t[3] - 3 * t[1] * t[2] + 2 * t[1]^3) / v^1.5
  kurtosis <- (t[4] - 4 * t[1] * t[3] + 6 * t[1]^2 * t[2] - 3 * t[1]^4) / v^2
  misses <- function(p) {
    a <- exp(p[1])
    b <- exp(p[2])
    (2 * (b - a) * sqrt(a + b + 1) / ((a + b + 2) * sqrt(a * b)) - skew)^2 +
      (3 + 6 * ((a - b)^2 * (a + b + 1) - a * b * (a + b + 2)) / (a * b * (a + b + 2) * (a + b + 3)) - kurtosis)^2
  }
  found <- optim(log(c(4, 3)), misses, control = list(reltol = 1e-16, maxit = 20000))
  for (again in 1:6) found <- optim(found$par, misses, control = list(reltol = 1e-16, maxit = 20000))
  a <- exp(found$par[1])
  b <- exp(found$par[2])
  width <- sqrt(v * (a + b)^2 * (a + b + 1) / (a * b))
  low <- t[1] - width * a / (a + b)
  if (found$value > 1e-12 || low < 0 || low + width > 1) {
    sum <- t[1] * (1 - t[1]) / v - 1
    a <- t[1] * sum
    b <- sum - a
    low <- 0
    width <- 1
  }
  n <- round(length)
  at <- floor(cut / 100 * n + 0.5)
  pass <- function(score) sapply(score, function(s) sum(dbinom(at:n, n, s)))
  over <- function(f, from, to) {
    ends <- pbeta((c(from, to) - low) / width, a, b)
    if (ends[1] >= ends[2]) return(0)
    integrate(function(p) f(pass(low + width * qbeta(p, a, b))), ends[1], ends[2], rel.tol = 1e-10, subdivisions = 2000)$value
  }
  p <- over(identity, 0, 1)
  same <- over(function(q) q^2 + (1 - q)^2, 0, 1)
  chance <- p^2 + (1 - p)^2
  c(length = length, consistency = same, kappa = (same - chance) / (1 - chance), false_pass = over(identity, 0, cut / 100),
    false_not_yet = over(function(q) 1 - q, cut / 100, 1))
}

for (seed in 1:12) {
  set.seed(seed)
  x <- round(100 * (0.2 + 0.7 * rbeta(sample(15:80, 1), 4, 2)), 1)
  cut <- sample(c(50, 60, 70, 75), 1)
  r <- sample(c(0.5, 0.7, 0.85), 1)
  compare(paste("Livingston and Lewis", seed), ours("decision", write_table(data.frame(score = x)), 0, 100, cut, r),
          livingston_lewis(x, cut, r), 1e-6)
}

cat(sprintf("%d figures, %d not alike\n", checked, wrong))
quit(status = wrong > 0 || checked < 900)
