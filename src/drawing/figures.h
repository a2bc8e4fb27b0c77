/** @file src/drawing/figures.h  Figures as a contractor reads them on paper: never finer than the survey. */
#ifndef DRAWING_FIGURES_H
#define DRAWING_FIGURES_H
#include <stdbool.h>
#include <stddef.h>

/** Room that every figure below fits into, with its terminator. */
enum { MST_FIGURE_SIZE = 64 };

/** Decimals of a level. Metric: 3 on @p hard surfaces known to 5 mm, 1 where worse than 50 mm, else 2.
 * Feet: 2 on hard surfaces, else 1. @param sd_m standard deviation, NaN when it is not known */
int mst_level_decimals(double sd_m, bool hard, bool imperial);
/** A level: 12.34, or decimal feet with a foot mark, 40.5'. Never -0.00. */
void mst_write_level(double level_m, int decimals, bool imperial, char out[MST_FIGURE_SIZE]);
/** Decimals of a metric length: 3 on @p hard edges known to 3 mm, 1 where worse than 50 mm, else 2. */
int mst_length_decimals(double sd_m, bool hard);
/** A length: 12.34, or feet and inches to 1/8 in. */
void mst_write_length(double length_m, int decimals, bool imperial, char out[MST_FIGURE_SIZE]);
void mst_write_area(double area_m2, bool imperial, char out[MST_FIGURE_SIZE]);     /**< 48.2 m², 519 ft² */
void mst_write_volume(double volume_m3, bool imperial, char out[MST_FIGURE_SIZE]); /**< 34.2 m³, 44.7 yd³ */
void mst_write_fall(double slope, char out[MST_FIGURE_SIZE]);                      /**< 1:60; "level" for none */
/** 1:200, or 1 in = 20 ft (1:240) where that is a whole number of feet; 1/4 in = 1 ft (1:48). */
void mst_write_scale(double scale, bool imperial, char out[MST_FIGURE_SIZE]);
#endif
