/* Options of the load generator, and how it gives up. One file includes it. */
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { WINDOW_MAX = 256 };

typedef struct {
  const char *host, *site;
  int port, connections, window, idle, drive_states;
  double seconds, warmup_seconds, per_second;
  long messages;
  int64_t step_ms, behind_ms;
} Options;

static Options options = {"127.0.0.1", "bench", 1883, 1, 1, 0, 0, 10, 0, 0, 0, 0, 0};

static void fail(const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  fprintf(stderr, "load: ");
  vfprintf(stderr, format, arguments);
  fprintf(stderr, "\n");
  va_end(arguments);
  exit(1);
}

static void read_options(int argc, char **argv) {
  for (int i = 1; i + 1 < argc; i += 2) {
    const char *name = argv[i], *value = argv[i + 1];
    if (strcmp(name, "--host") == 0) options.host = value;
    else if (strcmp(name, "--site") == 0) options.site = value;
    else if (strcmp(name, "--port") == 0) options.port = atoi(value);
    else if (strcmp(name, "--connections") == 0) options.connections = atoi(value);
    else if (strcmp(name, "--window") == 0) options.window = atoi(value);
    else if (strcmp(name, "--idle") == 0) options.idle = atoi(value);
    else if (strcmp(name, "--drive-states") == 0) options.drive_states = atoi(value);
    else if (strcmp(name, "--seconds") == 0) options.seconds = atof(value);
    else if (strcmp(name, "--warmup-seconds") == 0) options.warmup_seconds = atof(value);
    else if (strcmp(name, "--per-second") == 0) options.per_second = atof(value);
    else if (strcmp(name, "--messages") == 0) options.messages = atol(value);
    else if (strcmp(name, "--step-ms") == 0) options.step_ms = atoll(value);
    else if (strcmp(name, "--behind-ms") == 0) options.behind_ms = atoll(value);
    else fail("no option %s", name);
  }
  if (options.window < 1 || options.window > WINDOW_MAX) fail("--window must be 1 to %d", WINDOW_MAX);
  if (options.connections < 1 || options.idle < 0) fail("--connections must be at least 1, --idle at least 0");
}
