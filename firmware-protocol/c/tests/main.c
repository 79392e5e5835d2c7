#include "check.h"

int main(void) {
  check_counts counts = {0, 0};
  test_wire(&counts);
  test_samples(&counts);
  test_messages(&counts);
  test_time(&counts);
  test_queue(&counts);
  test_node(&counts);
  test_mqtt(&counts);
  printf("%u checks passed, %u failed\n", counts.passed, counts.failed);
  return counts.failed == 0 ? 0 : 1;
}
