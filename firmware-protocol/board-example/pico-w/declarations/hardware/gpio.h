#include <stdbool.h>
#include <stdint.h>
enum gpio_function { GPIO_FUNC_SPI = 1 };
enum { GPIO_IRQ_EDGE_FALL = 4 };
typedef void (*gpio_irq_callback_t)(unsigned int gpio, uint32_t events);
void gpio_init(unsigned int gpio);
void gpio_put(unsigned int gpio, bool value);
void gpio_set_dir(unsigned int gpio, bool out);
void gpio_pull_up(unsigned int gpio);
void gpio_set_function(unsigned int gpio, enum gpio_function fn);
void gpio_set_irq_enabled_with_callback(unsigned int gpio, uint32_t events, bool on, gpio_irq_callback_t callback);
