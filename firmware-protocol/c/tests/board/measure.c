/*
 * Instructions per sample and depth of stack of the encoder, on the emulated board. QEMU with
 * `-icount shift=0` advances its clock by 1 ns for each instruction, so SysTick counts instructions; a loop
 * of known length calibrates it. An instruction is not a cycle: on a Cortex-M0+ loads, stores and taken branches take 2.
 */
#include <stdio.h>
#include <string.h>

#include "../../clampline_mqtt.h"
#include "../signals.h"

#define SYST_CSR (*(volatile uint32_t *)0xe000e010)
#define SYST_RVR (*(volatile uint32_t *)0xe000e014)
#define SYST_CVR (*(volatile uint32_t *)0xe000e018)

enum { FRAMES = 512, CHANNELS = 3, PAINT = 0x5a5a5a5a, PAINTED_WORDS = 500 };

extern uint32_t end;

static int16_t frames[FRAMES * CHANNELS];
static uint8_t bytes[52 + CHANNELS + 2 * FRAMES * CHANNELS + 4];

static uint32_t ticks(void) { return 0x00ffffffu - SYST_CVR; }

__attribute__((noinline)) static void million_instructions(void) {
  uint32_t rounds = 500000;
  __asm volatile(".syntax unified\n1: subs %0, #1\n bne 1b\n" : "+l"(rounds) : : "cc");
}

static uint32_t stack_pointer(void) {
  uint32_t sp;
  __asm volatile("mov %0, sp" : "=r"(sp));
  return sp;
}

int main(void) {
  SYST_RVR = 0x00ffffff;
  SYST_CVR = 0;
  SYST_CSR = 5;
  uint32_t start = ticks();
  million_instructions();
  const uint32_t per_million = (ticks() - start) & 0x00ffffffu; /* 24 bits of counter */
  printf("calibration: %u ticks for a million instructions\n", (unsigned)per_million);
  static const char *const names[] = {"zero", "noise", "resonance", "ramp", "extremes", "impulses"};
  static const uint8_t orders[] = {8, 12, 16};
  const clampline_packet packet = {.node_id = 1, .boot_id = 1, .nominal_rate_millihz = 3200000,
                                   .frame_count = FRAMES, .channel_count = CHANNELS, .layout = {1, 2, 3}};
  for (uint32_t kind = 0; kind < SIGNAL_KINDS; kind++) {
    signal_fill(kind, frames, FRAMES, CHANNELS);
    for (uint32_t o = 0; o < 3; o++) {
      start = ticks();
      const int32_t length = clampline_encode_samples(&packet, frames, orders[o], bytes, sizeof bytes);
      const uint32_t spent = (ticks() - start) & 0x00ffffffu; /* 24 bits of counter */
      const uint32_t instructions = (uint32_t)((uint64_t)spent * 1000000u / per_million);
      printf("%s order %u: %u instructions/sample, %d bytes\n", names[kind], (unsigned)orders[o],
             (unsigned)(instructions / (FRAMES * CHANNELS)), (int)length);
    }
  }
  volatile uint32_t *const top = (volatile uint32_t *)(stack_pointer() - 64);
  for (uint32_t i = 0; i < PAINTED_WORDS; i++) top[-(int32_t)i] = PAINT;
  signal_fill(SIGNAL_RESONANCE, frames, 1, 1);
  const uint32_t before = stack_pointer();
  (void)clampline_encode_samples(&packet, frames, 16, bytes, sizeof bytes);
  uint32_t deepest = PAINTED_WORDS - 1;
  while (deepest > 0 && top[-(int32_t)deepest] == PAINT) deepest--;
  printf("stack of clampline_encode_samples: %u bytes\n", (unsigned)(before - (uint32_t)(top - deepest)));
  printf("clampline_node: %u bytes, clampline_mqtt: %u bytes, of the caller\n", (unsigned)sizeof(clampline_node),
         (unsigned)sizeof(clampline_mqtt));
  return 0;
}
