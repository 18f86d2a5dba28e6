/* How the load generator writes texts, numbers and PUBLISH packets (MQTT 3.1.1, 3.3). One file includes it. */
#include <stddef.h>
#include <stdint.h>
#include <string.h>

static char *put_text(char *p, const char *text) {
  size_t length = strlen(text);
  memcpy(p, text, length);
  return p + length;
}

static char *put_number(char *p, uint64_t value) {
  char digits[24];
  int n = 0;
  do {
    digits[n++] = (char)('0' + value % 10);
    value /= 10;
  } while (value != 0);
  while (n > 0) *p++ = digits[--n];
  return p;
}

/* Writes a QoS 1 PUBLISH; returns its length. */
static size_t put_publish(uint8_t *frame, const char *topic, size_t topic_length, int retain, uint16_t id, const char *payload,
                          size_t payload_length) {
  size_t rest = 2 + topic_length + 2 + payload_length, n = 0;
  frame[n++] = (uint8_t)(0x32 | (retain ? 1 : 0));
  for (size_t left = rest;;) {
    uint8_t byte = (uint8_t)(left % 128);
    left /= 128;
    frame[n++] = left > 0 ? byte | 0x80 : byte;
    if (left == 0) break;
  }
  frame[n++] = (uint8_t)(topic_length >> 8);
  frame[n++] = (uint8_t)topic_length;
  memcpy(frame + n, topic, topic_length);
  n += topic_length;
  frame[n++] = (uint8_t)(id >> 8);
  frame[n++] = (uint8_t)id;
  memcpy(frame + n, payload, payload_length);
  return n + payload_length;
}
