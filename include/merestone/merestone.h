/** @file merestone/merestone.h  Everything at once. */
#ifndef MERESTONE_MERESTONE_H
#define MERESTONE_MERESTONE_H
#include "merestone/base.h"
#include "merestone/site.h"
#include "merestone/geometry.h"
#include "merestone/survey.h"
#include "merestone/ground.h"
#include "merestone/works.h"
#include "merestone/setout.h"
#include "merestone/estimate.h"
#include "merestone/drawing.h"
#include "merestone/exchange.h"
#include "merestone/operations.h"
#endif
