/*
 * Clampline node core: the node's side of ../SPEC.md, in C99.
 *
 * No heap, no globals, no stdio. The caller owns every buffer. Functions that return int32_t return
 * a count of bytes (or 0) when they succeed and a negative CLAMPLINE_E_ code when they do not.
 * Assumes two's complement and arithmetic right shift of negative numbers (gcc, clang and every
 * compiler for the targets named in the Makefile).
 */
#ifndef CLAMPLINE_H
#define CLAMPLINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* ---- Error codes: SPEC.md, section 10. Never reused. ---- */
enum {
  CLAMPLINE_E_TOO_SHORT = -1,    /* fewer bytes than the shortest message of that kind */
  CLAMPLINE_E_BAD_MAGIC = -2,    /* does not begin with "CL" */
  CLAMPLINE_E_BAD_VERSION = -3,  /* a version of this kind that the reader does not know */
  CLAMPLINE_E_BAD_KIND = -4,     /* another kind of message than the topic promises */
  CLAMPLINE_E_BAD_CHECKSUM = -5, /* bytes were damaged on the way */
  CLAMPLINE_E_BAD_LENGTH = -6,   /* longer than allowed, or not as long as the fields say */
  CLAMPLINE_E_BAD_FIELD = -7,    /* a field holds a value outside its range */
  CLAMPLINE_E_BAD_PAYLOAD = -8,  /* the compressed samples are not a valid bit stream */
  CLAMPLINE_E_NO_SPACE = -9,     /* the caller's buffer is too small */
  CLAMPLINE_E_BAD_ARGUMENT = -10, /* the caller passed a value outside its range */
  CLAMPLINE_E_EMPTY = -11,       /* the queue holds nothing */
  CLAMPLINE_E_NOT_FOR_US = -12,  /* addressed to another node, or to an earlier boot */
  CLAMPLINE_E_STALE = -13,       /* an answer to a question that is no longer open */
  CLAMPLINE_E_HARDWARE = -14,    /* a hardware function reported a failure */
  CLAMPLINE_E_UNSUPPORTED = -15, /* the node cannot do what a command asks */
  CLAMPLINE_E_CORRUPT = -16      /* memory that should hold a queue does not */
};

/* ---- Limits and numbers of the wire format ---- */
enum {
  CLAMPLINE_KIND_SAMPLES = 1,
  CLAMPLINE_KIND_STATUS = 2,
  CLAMPLINE_KIND_TIME_REQUEST = 3,
  CLAMPLINE_KIND_EVENT = 4,
  CLAMPLINE_KIND_TIME_ANSWER = 16,
  CLAMPLINE_KIND_COMMAND = 17,
  CLAMPLINE_KIND_JOURNALED = 18
};

#define CLAMPLINE_VERSION 1
#define CLAMPLINE_MAX_CHANNELS 16
#define CLAMPLINE_MAX_FRAMES 8192
#define CLAMPLINE_MAX_SAMPLES 65536u
#define CLAMPLINE_MAX_ORDER 16
#define CLAMPLINE_MAX_MESSAGE_BYTES 512
#define CLAMPLINE_MAX_TEXT 32
#define CLAMPLINE_STATUS_BYTES_MAX (74 + 2 * CLAMPLINE_MAX_TEXT)
#define CLAMPLINE_TIME_REQUEST_BYTES 60
#define CLAMPLINE_EVENT_BYTES 52
#define CLAMPLINE_MAX_EXACT 0x1FFFFFFFFFFFFFull /* 2^53 - 1: counters and clocks stay below */

enum { CLAMPLINE_TIME_FREE = 0, CLAMPLINE_TIME_SYNCED = 1, CLAMPLINE_TIME_REPLAY = 2 };
enum { CLAMPLINE_CONTINUOUS = 0, CLAMPLINE_DUTY_CYCLED = 1, CLAMPLINE_TRIGGERED = 2 };
enum { CLAMPLINE_AXIS_SINGLE = 0, CLAMPLINE_AXIS_X = 1, CLAMPLINE_AXIS_Y = 2, CLAMPLINE_AXIS_Z = 3 };
enum { CLAMPLINE_FLAG_OVERRUN = 1, CLAMPLINE_FLAG_OUT_OF_RANGE = 2, CLAMPLINE_FLAG_CAPTURE_START = 4 };

/* ---- Sample packets ---- */
typedef struct {
  uint64_t node_id;
  uint64_t first_sample;         /* frames since the boot id, below 2^53 */
  uint64_t node_clock_us;        /* at the first frame, below 2^53 */
  uint32_t boot_id;
  uint32_t sequence;
  uint32_t nominal_rate_millihz; /* 100 to 200000000 */
  uint32_t full_scale_um_per_s2; /* what 32768 stands for; 0: not known */
  uint16_t frame_count;          /* 1 to 8192; frames x channels at most 65536 */
  uint16_t flags;                /* CLAMPLINE_FLAG_ bits */
  uint8_t channel_count;         /* 1 to 16 */
  uint8_t time_source;           /* CLAMPLINE_TIME_ */
  uint8_t capture_mode;          /* CLAMPLINE_CONTINUOUS and so on */
  uint8_t layout[CLAMPLINE_MAX_CHANNELS]; /* sensor << 4 | CLAMPLINE_AXIS_ */
} clampline_packet;

/* Bytes that a packet never exceeds: what the buffer for clampline_encode_samples must hold. */
size_t clampline_packet_bound(uint32_t channel_count, uint32_t frame_count);

/*
 * Writes a sample packet. `frames` is interleaved as a sensor's FIFO gives it: frame_count times
 * channel_count values. `max_order`: 0 to 16 taps of prediction, more is smaller and slower; 12 is a good
 * choice; CLAMPLINE_PLAIN writes plain samples. Needs about 0.5 KiB of stack.
 * Returns bytes written, NO_SPACE when out_size is below clampline_packet_bound, or BAD_ARGUMENT.
 */
#define CLAMPLINE_PLAIN 255
int32_t clampline_encode_samples(const clampline_packet *packet, const int16_t *frames, uint8_t max_order,
                                 uint8_t *out, size_t out_size);

/*
 * Reads a sample packet: for tests and for readers written in C; a node does not need it.
 * `frames` (interleaved) holds `frames_size` values. Returns the number of values, or a decode code.
 */
int32_t clampline_decode_samples(const uint8_t *bytes, size_t length, clampline_packet *packet,
                                 int16_t *frames, size_t frames_size);

/* ---- Status ---- */
enum { CLAMPLINE_OFFLINE = 0, CLAMPLINE_SAMPLING = 1, CLAMPLINE_STOPPED = 2, CLAMPLINE_ASLEEP = 3 };

typedef struct {
  uint64_t node_id;
  uint64_t node_clock_us;
  uint32_t boot_id;
  uint32_t next_status_s;                       /* promised within; 0: no promise */
  uint32_t next_sequence;
  uint32_t dropped_packets;
  uint32_t overruns;
  uint32_t nominal_rate_millihz;                /* 0: not known */
  uint32_t full_scale_um_per_s2;                /* 0: not known */
  uint32_t noise_density_um_per_s2_per_rt_hz;   /* 0: not known */
  uint32_t sensor_bandwidth_hz;                 /* 0: not known */
  uint16_t battery_millivolt;                   /* 0: not known */
  uint16_t buffer_fill_permille;                /* 0 to 1000; CLAMPLINE_UNKNOWN_FILL */
  int16_t temperature_centi_c;                  /* CLAMPLINE_UNKNOWN_TEMPERATURE */
  int8_t signal_dbm;                            /* -126 to 0; CLAMPLINE_UNKNOWN_SIGNAL */
  uint8_t battery_percent;                      /* 0 to 100; CLAMPLINE_UNKNOWN_PERCENT */
  uint8_t resolution_bits;                      /* 1 to 32; 0: not known */
  uint8_t state;                                /* CLAMPLINE_OFFLINE and so on */
  uint8_t reset_cause;                          /* 0 unknown, 1 power, 2 watchdog, 3 brown-out, 4 software, 5 pin */
  uint8_t time_source;
  const char *firmware_version;                 /* printable ASCII, at most 32; NULL: empty */
  const char *sensor_part;                      /* the same */
} clampline_status;

#define CLAMPLINE_UNKNOWN_FILL 65535
#define CLAMPLINE_UNKNOWN_TEMPERATURE (-32768)
#define CLAMPLINE_UNKNOWN_SIGNAL 127
#define CLAMPLINE_UNKNOWN_PERCENT 255

/* Everything unknown, state offline: what the last will carries. */
void clampline_status_init(clampline_status *status, uint64_t node_id, uint32_t boot_id);
/* Writes a status message (at most CLAMPLINE_STATUS_BYTES_MAX). */
int32_t clampline_encode_status(const clampline_status *status, uint8_t *out, size_t out_size);

/* ---- Events ---- */
enum {
  CLAMPLINE_NOISE_MARK = 1,
  CLAMPLINE_TAP = 2,
  CLAMPLINE_COMMAND_DONE = 3,
  CLAMPLINE_COMMAND_REFUSED = 4
};
#define CLAMPLINE_NO_SAMPLE UINT64_MAX
#define CLAMPLINE_NO_SENSOR 255

typedef struct {
  uint64_t node_id;
  uint64_t node_clock_us;
  uint64_t sample;      /* CLAMPLINE_NO_SAMPLE when not sampling */
  uint32_t boot_id;
  uint32_t event_count;
  uint32_t value;       /* tap: peak in mm/s2; command done: the value now set */
  uint16_t command_id;
  int16_t result;       /* command refused: a CLAMPLINE_E_ code */
  uint8_t time_source;
  uint8_t event;
  uint8_t sensor;       /* CLAMPLINE_NO_SENSOR */
} clampline_event;

int32_t clampline_encode_event(const clampline_event *event, uint8_t *out, size_t out_size);

/* ---- Station to node ---- */
enum {
  CLAMPLINE_START = 1,
  CLAMPLINE_STOP = 2,
  CLAMPLINE_SET_RATE = 3,  /* argument: mHz */
  CLAMPLINE_SET_RANGE = 4, /* argument: um/s2 */
  CLAMPLINE_IDENTIFY = 5,  /* argument: seconds, 0 to 600 */
  CLAMPLINE_REPORT = 6
};

typedef struct {
  uint32_t argument;
  uint16_t command_id;
  uint8_t action;
} clampline_command;

typedef struct {
  uint64_t upto_sample;
  uint32_t boot_id; /* may be an earlier boot */
  uint32_t from_sequence;
  uint32_t upto_sequence;
} clampline_journaled;

/* NOT_FOR_US when addressed to another node, or to a boot that is neither 0 nor `boot_id`. */
int32_t clampline_decode_command(const uint8_t *bytes, size_t length, uint64_t node_id, uint32_t boot_id,
                                 clampline_command *command);
int32_t clampline_decode_journaled(const uint8_t *bytes, size_t length, uint64_t node_id,
                                   clampline_journaled *journaled);

/* ---- Time exchange ---- */
#define CLAMPLINE_TIME_SLOTS 8

typedef struct {
  uint64_t node_us;  /* node clock at the middle of the exchange */
  int64_t offset_us; /* Unix time minus node clock */
  uint32_t delay_us; /* on the way, there and back: the offset is true within half of it */
} clampline_time_slot;

typedef struct {
  uint64_t node_id;
  uint64_t open_t0; /* of the question waiting for an answer */
  uint64_t last[4]; /* t0 to t3 of the last exchange completed */
  uint32_t boot_id;
  bool open;
  uint8_t count; /* slots in use */
  uint8_t next;  /* slot to overwrite */
  clampline_time_slot slots[CLAMPLINE_TIME_SLOTS];
} clampline_time;

void clampline_time_init(clampline_time *time, uint64_t node_id, uint32_t boot_id);
/* Writes a time request; `now_us` is the node clock, read just before. */
int32_t clampline_time_ask(clampline_time *time, uint64_t now_us, uint8_t *out, size_t out_size);
/* Takes the station's answer; `now_us` is the node clock, read as soon as the answer came. */
int32_t clampline_time_hear(clampline_time *time, uint64_t now_us, const uint8_t *bytes, size_t length);
/* CLAMPLINE_TIME_SYNCED once an exchange has been completed, else CLAMPLINE_TIME_FREE. */
uint8_t clampline_time_source(const clampline_time *time);
/*
 * Unix time in us for a moment of the node clock, from the exchange of least delay among the last eight
 * and, once they span 60 s, their drift. 0 while no exchange is completed. `error_us` (may be NULL) gets half the delay.
 */
uint64_t clampline_time_unix_us(const clampline_time *time, uint64_t node_us, uint32_t *error_us);

/* ---- Store and forward ---- */
/*
 * A bounded queue of whole messages over the caller's memory, oldest first. When it is full the oldest
 * message gives way and `dropped` counts it. It keeps its place between "sent" and "may be forgotten":
 * what is sent stays until it is released, and goes out again after clampline_queue_rewind.
 */
typedef struct {
  uint8_t *memory;
  uint32_t size;
  uint32_t head;    /* where the next message goes */
  uint32_t tail;    /* oldest message */
  uint32_t cursor;  /* next message to send */
  uint32_t wrap;    /* end of the used part when head lies before tail */
  uint32_t used;    /* bytes in use */
  uint32_t count;   /* messages held */
  uint32_t unsent;  /* messages at and after the cursor */
  uint32_t dropped; /* messages given up because it was full */
  uint32_t ticket;  /* number of the oldest message; each newer one is one more */
} clampline_queue;

/* `memory` must hold at least 64 bytes, at most 2^31. */
int32_t clampline_queue_init(clampline_queue *queue, uint8_t *memory, size_t size);
/* Room for a message of at most `length` bytes, to be filled and committed; gives up the oldest if it must. */
int32_t clampline_queue_reserve(clampline_queue *queue, size_t length, uint8_t **room);
/* Adds the message written into the reserved room; `length` may be smaller than what was reserved. */
int32_t clampline_queue_commit(clampline_queue *queue, size_t length);
/*
 * The next message to send and its length, or EMPTY. It stays the next one until clampline_queue_sent.
 * `ticket` is its number, for clampline_queue_release.
 */
int32_t clampline_queue_next(const clampline_queue *queue, const uint8_t **message, uint32_t *ticket);
int32_t clampline_queue_sent(clampline_queue *queue);
/*
 * The message with this number has arrived: it is forgotten, once those before it are too. 0 also when it was
 * given up meanwhile; STALE when it was never sent.
 */
int32_t clampline_queue_release(clampline_queue *queue, uint32_t ticket);
/* The same, but a sample packet stays: it is kept until it is journaled. */
int32_t clampline_queue_release_other(clampline_queue *queue, uint32_t ticket);
/* Releases what a journaled message covers. Returns how many sample packets that were sent lie before it: lost. */
int32_t clampline_queue_journaled(clampline_queue *queue, const clampline_journaled *journaled);
/* Everything still held goes out again: after a lost connection. */
void clampline_queue_rewind(clampline_queue *queue);
/* 0 to 1000. */
uint16_t clampline_queue_fill_permille(const clampline_queue *queue);
/* Walks the queue: 0, or CORRUPT. For memory that survived a reset. */
int32_t clampline_queue_check(const clampline_queue *queue);

/* CRC-32C; pass an earlier result as `crc` to go on where it ended, 0 to begin. */
uint32_t clampline_crc32c(uint32_t crc, const uint8_t *bytes, size_t length);

#endif
