/* Clocks and latencies of the load generator: how many, the highest, quantiles. Microseconds. One file includes it. */
#include <stddef.h>
#include <stdint.h>
#include <time.h>

enum { STEPS = 64, DECADES = 40 };

static uint64_t histogram[DECADES * STEPS];
static uint64_t measured, latency_max_us;

static uint64_t now_us(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (uint64_t)t.tv_sec * 1000000u + (uint64_t)t.tv_nsec / 1000u;
}

static int64_t wall_ms(void) {
  struct timespec t;
  clock_gettime(CLOCK_REALTIME, &t);
  return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* Buckets of 1/64 of a power of two: figures from the histogram are at most 1.6 % off. */
static size_t bucket_of(uint64_t us) {
  if (us < STEPS) return (size_t)us;
  int shift = 63 - __builtin_clzll(us) - 6;
  size_t bucket = (size_t)(shift + 1) * STEPS + (size_t)((us >> shift) - STEPS);
  return bucket < DECADES * STEPS ? bucket : DECADES * STEPS - 1;
}

static uint64_t value_of(size_t bucket) {
  if (bucket < STEPS) return bucket;
  size_t shift = bucket / STEPS - 1;
  return (bucket % STEPS + STEPS) << shift;
}

static uint64_t quantile_us(double share) {
  uint64_t wanted = (uint64_t)(share * (double)measured), seen = 0;
  for (size_t i = 0; i < DECADES * STEPS; i++) {
    seen += histogram[i];
    if (seen > wanted) return value_of(i);
  }
  return latency_max_us;
}

static void count_latency(uint64_t us) {
  measured++;
  histogram[bucket_of(us)]++;
  if (us > latency_max_us) latency_max_us = us;
}
