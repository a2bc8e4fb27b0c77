/* Cholesky factors of a few hundred rows. Four running sums keep the unit busy; their order is fixed. */
#include "ground/roughness.h"

static double dot(const double a[], const double b[], size_t count) {
    double s[4] = {0, 0, 0, 0};
    size_t k = 0;
    for (; k + 4 <= count; k += 4)
        for (int i = 0; i < 4; i++) s[i] += a[k + (size_t)i] * b[k + (size_t)i];
    for (; k < count; k++) s[0] += a[k] * b[k];
    return (s[0] + s[1]) + (s[2] + s[3]);
}

bool mst_dense_factor(double *a, size_t count, size_t stride) {
    for (size_t i = 0; i < count; i++)
        for (size_t j = 0; j <= i; j++) {
            double sum = a[i * stride + j] - dot(&a[i * stride], &a[j * stride], j);
            if (j < i) a[i * stride + j] = sum / a[j * stride + j];
            else if (sum > 0) a[i * stride + i] = sqrt(sum);
            else return false;
        }
    return true;
}

void mst_dense_forward(const double *l, size_t count, size_t stride, double x[]) {
    for (size_t i = 0; i < count; i++) x[i] = (x[i] - dot(&l[i * stride], x, i)) / l[i * stride + i];
}

void mst_dense_back(const double *l, size_t count, size_t stride, double x[]) {
    for (size_t i = count; i-- > 0;) {
        x[i] /= l[i * stride + i];
        for (size_t k = 0; k < i; k++) x[k] -= l[i * stride + k] * x[i];
    }
}
