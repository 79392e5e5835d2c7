#include <stddef.h>
#include <stdint.h>
typedef struct spi_inst spi_inst_t;
extern spi_inst_t *const spi0;
typedef enum { SPI_CPHA_0, SPI_CPHA_1 } spi_cpha_t;
typedef enum { SPI_CPOL_0, SPI_CPOL_1 } spi_cpol_t;
typedef enum { SPI_LSB_FIRST, SPI_MSB_FIRST } spi_order_t;
unsigned int spi_init(spi_inst_t *spi, unsigned int baudrate);
void spi_set_format(spi_inst_t *spi, unsigned int bits, spi_cpol_t cpol, spi_cpha_t cpha, spi_order_t order);
int spi_write_read_blocking(spi_inst_t *spi, const uint8_t *src, uint8_t *dst, size_t len);
