/*
 * Load generator: N connections, each with at most W readings on their way (MQTT 3.1.1, QoS 1), one thread, epoll.
 * Why C: it has to stay far below the speed of what it measures, so that the figures are those of the broker.
 *
 * Connection k (from 1) publishes to <site>/in/m<k>/de/reading. `seq` counts from 0, `count` grows by 1 + seq mod 3.
 * `at` is the time of sending, or with --step-ms S a time that starts --behind-ms ago and moves by S each reading.
 * Prints one JSON object. Exit 1: a connection broke, was refused, or acknowledgements are missing at the end.
 */
#define _GNU_SOURCE
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "load-latency.h"
#include "load-options.h"
#include "load-wire.h"

enum { FRAME_MAX = 320, IN_MAX = 4096, EVENTS_MAX = 512 };

typedef struct {
  int fd;
  int index;
  uint32_t sent, acked;
  uint64_t count;
  int64_t at_ms;
  uint64_t sent_us[WINDOW_MAX];
  uint8_t in[IN_MAX];
  size_t in_length;
  uint8_t *out;
  size_t out_length, out_done;
  char topic[96];
  size_t topic_length;
} Connection;

static Connection *connections;
static int poll_fd;
static uint64_t out_of_order;
static uint64_t tokens_sent, started_us;
static int is_measuring, is_sending;

static uint16_t packet_id(uint32_t seq) { return (uint16_t)(seq % 60000 + 1); }

static size_t put_reading(Connection *c, uint8_t *frame, int64_t now) {
  char payload[FRAME_MAX], *p = payload;
  if (options.step_ms > 0) c->at_ms += options.step_ms;
  else c->at_ms = now;
  c->count += 1 + c->sent % 3;
  p = put_text(p, "{\"device\":\"SN-");
  if (c->index < 1000) *p++ = '0';
  if (c->index < 100) *p++ = '0';
  if (c->index < 10) *p++ = '0';
  p = put_number(p, (uint64_t)c->index);
  p = put_text(p, "\",\"boot\":1,\"seq\":");
  p = put_number(p, c->sent);
  p = put_text(p, ",\"count\":");
  p = put_number(p, c->count);
  p = put_text(p, ",\"at\":");
  p = put_number(p, (uint64_t)c->at_ms);
  p = put_text(p, ",\"temperature_c\":41.5,\"supply_v\":24.1}");
  return put_publish(frame, c->topic, c->topic_length, 0, packet_id(c->sent), payload, (size_t)(p - payload));
}

static void watch(Connection *c, int want_write) {
  struct epoll_event event = {.events = EPOLLIN | (want_write ? EPOLLOUT : 0u), .data.ptr = c};
  if (epoll_ctl(poll_fd, EPOLL_CTL_MOD, c->fd, &event) < 0) fail("epoll_ctl: %s", strerror(errno));
}

static void flush_out(Connection *c) {
  while (c->out_done < c->out_length) {
    ssize_t n = send(c->fd, c->out + c->out_done, c->out_length - c->out_done, MSG_NOSIGNAL);
    if (n < 0 && (errno == EAGAIN || errno == EINTR)) {
      watch(c, 1);
      return;
    }
    if (n < 0) fail("connection %d broke while sending: %s", c->index, strerror(errno));
    c->out_done += (size_t)n;
  }
  if (c->out_length > 0) c->out_length = c->out_done = 0;
}

/* How many more readings the pace allows now. */
static long allowance(uint64_t now) {
  if (options.per_second <= 0) return WINDOW_MAX;
  double due = (double)(now - started_us) / 1e6 * options.per_second;
  return (long)(due - (double)tokens_sent);
}

/* Fills the window; one write for all of it. */
static void send_readings(Connection *c, uint64_t now, int64_t wall) {
  if (!is_sending || c->out_length > 0) return;
  long allowed = allowance(now);
  while (c->sent - c->acked < (uint32_t)options.window && allowed > 0) {
    if (options.messages > 0 && c->sent >= (uint32_t)options.messages) break;
    c->out_length += put_reading(c, c->out + c->out_length, wall);
    c->sent_us[c->sent % WINDOW_MAX] = now;
    c->sent++;
    tokens_sent++;
    allowed--;
  }
  if (c->out_length > 0) flush_out(c);
}

static void take_ack(Connection *c, uint16_t id, uint64_t now) {
  if (c->acked >= c->sent) fail("connection %d: an acknowledgement too many", c->index);
  if (id != packet_id(c->acked)) out_of_order++;
  uint64_t us = now - c->sent_us[c->acked % WINDOW_MAX];
  c->acked++;
  if (!is_measuring) return;
  count_latency(us);
}

static void read_acks(Connection *c, uint64_t now) {
  ssize_t n = recv(c->fd, c->in + c->in_length, IN_MAX - c->in_length, 0);
  if (n < 0 && (errno == EAGAIN || errno == EINTR)) return;
  if (n < 0) fail("connection %d broke: %s", c->index, strerror(errno));
  if (n == 0) fail("connection %d was closed by the broker after %u acknowledgements", c->index, c->acked);
  c->in_length += (size_t)n;
  size_t done = 0;
  while (c->in_length - done >= 4) {
    const uint8_t *p = c->in + done;
    if (p[0] != 0x40 || p[1] != 2) fail("connection %d: packet type %d instead of PUBACK", c->index, p[0] >> 4);
    take_ack(c, (uint16_t)(p[2] << 8 | p[3]), now);
    done += 4;
  }
  memmove(c->in, c->in + done, c->in_length - done);
  c->in_length -= done;
}

static void send_all(int fd, const uint8_t *bytes, size_t length, int index) {
  while (length > 0) {
    ssize_t n = send(fd, bytes, length, MSG_NOSIGNAL);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) fail("connection %d broke at its start: %s", index, strerror(errno));
    bytes += n;
    length -= (size_t)n;
  }
}

static void read_exactly(int fd, uint8_t *bytes, size_t length, int index) {
  while (length > 0) {
    ssize_t n = recv(fd, bytes, length, 0);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) fail("connection %d got no answer at its start", index);
    bytes += n;
    length -= (size_t)n;
  }
}

/* Says that the motor has been running for an hour before the first reading. */
static void send_drive_state(const Connection *c) {
  char topic[96], payload[200];
  uint8_t frame[FRAME_MAX], ack[4];
  long long since = (long long)(wall_ms() - options.behind_ms - 3600000);
  int topic_length = snprintf(topic, sizeof topic, "%s/in/m%d/drive/state", options.site, c->index);
  int length = snprintf(payload, sizeof payload,
                        "{\"state\":\"running\",\"modulating\":true,\"at\":%lld,\"since\":%lld,\"speed_rpm\":1480,\"switching_khz\":4}",
                        since, since);
  size_t n = put_publish(frame, topic, (size_t)topic_length, 1, 65000, payload, (size_t)length);
  send_all(c->fd, frame, n, c->index);
  read_exactly(c->fd, ack, 4, c->index);
  if (ack[0] != 0x40) fail("connection %d: the drive state was not acknowledged", c->index);
}

static void open_connection(Connection *c, int index) {
  struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)options.port)};
  if (inet_pton(AF_INET, options.host, &address.sin_addr) != 1) fail("--host must be an IPv4 address, not %s", options.host);
  c->index = index;
  c->at_ms = wall_ms() - options.behind_ms;
  c->fd = socket(AF_INET, SOCK_STREAM, 0);
  if (c->fd < 0) fail("socket %d: %s", index, strerror(errno));
  if (connect(c->fd, (struct sockaddr *)&address, sizeof address) < 0) fail("connection %d: %s", index, strerror(errno));
  int one = 1;
  setsockopt(c->fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
  c->topic_length = (size_t)snprintf(c->topic, sizeof c->topic, "%s/in/m%d/de/reading", options.site, index);
  uint8_t frame[64] = {0x10, 0, 0, 4, 'M', 'Q', 'T', 'T', 4, 2, 0x0e, 0x10};
  int id_length = snprintf((char *)frame + 14, 40, "load-%d", index);
  frame[1] = (uint8_t)(12 + id_length);
  frame[13] = (uint8_t)id_length;
  send_all(c->fd, frame, 14 + (size_t)id_length, index);
  uint8_t answer[4];
  read_exactly(c->fd, answer, 4, index);
  if (answer[0] != 0x20 || answer[3] != 0) fail("connection %d was refused with code %d", index, answer[3]);
  if (options.drive_states && index <= options.connections) send_drive_state(c);
  if (fcntl(c->fd, F_SETFL, O_NONBLOCK) < 0) fail("fcntl: %s", strerror(errno));
  c->out = malloc((size_t)options.window * FRAME_MAX);
  if (c->out == NULL) fail("out of memory");
  struct epoll_event event = {.events = EPOLLIN, .data.ptr = c};
  if (epoll_ctl(poll_fd, EPOLL_CTL_ADD, c->fd, &event) < 0) fail("epoll_ctl: %s", strerror(errno));
}

static int is_finished(void) {
  if (is_sending && options.messages == 0) return 0;
  for (int i = 0; i < options.connections; i++) {
    const Connection *c = &connections[i];
    if (c->acked < c->sent) return 0;
    if (is_sending && c->sent < (uint32_t)options.messages) return 0;
  }
  return 1;
}

static void handle_events(void) {
  struct epoll_event events[EVENTS_MAX];
  int n = epoll_wait(poll_fd, events, EVENTS_MAX, options.per_second > 0 ? 1 : 50);
  if (n < 0 && errno != EINTR) fail("epoll_wait: %s", strerror(errno));
  uint64_t now = now_us();
  int64_t wall = wall_ms();
  for (int i = 0; i < n; i++) {
    Connection *c = events[i].data.ptr;
    if (events[i].events & EPOLLOUT) {
      watch(c, 0);
      flush_out(c);
    }
    if (events[i].events & (EPOLLIN | EPOLLHUP | EPOLLERR)) read_acks(c, now);
    if (options.per_second <= 0 && c->index <= options.connections) send_readings(c, now, wall);
  }
}

/* With a pace, connections take turns. */
static void send_paced(void) {
  static int next;
  uint64_t now = now_us();
  int64_t wall = wall_ms();
  for (int i = 0; i < options.connections && allowance(now) > 0; i++) {
    Connection *c = &connections[next];
    next = (next + 1) % options.connections;
    if (c->sent - c->acked >= (uint32_t)options.window || c->out_length > 0) continue;
    long before = options.window;
    options.window = (int)(c->sent - c->acked) + 1;
    send_readings(c, now, wall);
    options.window = (int)before;
  }
}

static void run_until(uint64_t end_us) {
  while (now_us() < end_us && !is_finished()) {
    handle_events();
    if (options.per_second > 0 && is_sending) send_paced();
  }
}

static double cpu_seconds(void) {
  struct rusage use;
  getrusage(RUSAGE_SELF, &use);
  return (double)(use.ru_utime.tv_sec + use.ru_stime.tv_sec) + (double)(use.ru_utime.tv_usec + use.ru_stime.tv_usec) / 1e6;
}

static void print_report(double seconds, double cpu) {
  uint64_t total = 0;
  for (int i = 0; i < options.connections; i++) total += connections[i].acked;
  printf("{\"connections\":%d,\"window\":%d,\"idle\":%d,\"seconds\":%.3f,\"acknowledged\":%llu,\"perSecond\":%.1f,", options.connections,
         options.window, options.idle, seconds, (unsigned long long)measured, (double)measured / seconds);
  printf("\"p50Us\":%llu,\"p99Us\":%llu,\"maxUs\":%llu,\"cpuShare\":%.3f,\"outOfOrder\":%llu,\"totalAcknowledged\":%llu,\"acked\":[",
         (unsigned long long)quantile_us(0.5), (unsigned long long)quantile_us(0.99), (unsigned long long)latency_max_us, cpu / seconds,
         (unsigned long long)out_of_order, (unsigned long long)total);
  for (int i = 0; i < options.connections; i++) printf(i == 0 ? "%u" : ",%u", connections[i].acked);
  printf("]}\n");
}

int main(int argc, char **argv) {
  read_options(argc, argv);
  struct rlimit files = {65536, 65536};
  setrlimit(RLIMIT_NOFILE, &files);
  poll_fd = epoll_create1(0);
  connections = calloc((size_t)(options.connections + options.idle), sizeof *connections);
  if (poll_fd < 0 || connections == NULL) fail("out of memory or files");
  for (int i = 0; i < options.connections + options.idle; i++) open_connection(&connections[i], i + 1);

  is_sending = 1;
  started_us = now_us();
  for (int i = 0; options.per_second <= 0 && i < options.connections; i++) send_readings(&connections[i], now_us(), wall_ms());
  run_until(started_us + (uint64_t)(options.warmup_seconds * 1e6));
  is_measuring = 1;
  double cpu = cpu_seconds();
  uint64_t begin = now_us();
  run_until(begin + (uint64_t)(options.seconds * 1e6));
  double seconds = (double)(now_us() - begin) / 1e6;
  cpu = cpu_seconds() - cpu;
  is_measuring = 0;
  is_sending = 0;
  run_until(now_us() + 10000000u);
  print_report(seconds, cpu);
  if (!is_finished()) fail("acknowledgements are missing 10 s after the last reading");
  const uint8_t disconnect[2] = {0xe0, 0};
  for (int i = 0; i < options.connections + options.idle; i++) send(connections[i].fd, disconnect, 2, MSG_NOSIGNAL);
  return 0;
}
