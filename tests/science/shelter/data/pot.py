"""Numbers of `a_pot_through_five_days_agrees_with_a_fine_step_integration` (tests/science/shelter/spell.rs): the heat content of a 20 L pot on the
ground in calm air, stepped by one second (explicit Euler). Python 3.11 and later, no packages."""
from math import pi, sin

THETA, HEAT, FROZEN, LATENT = 0.4, (0.4 * 4.18 + 0.3) * 1e6, (0.4 * 1.93 + 0.3) * 1e6, 0.4 * 334.0e6
VOLUME = 0.020
width = (4 * VOLUME / pi) ** (1 / 3)
area = pi * width * width + pi * width * width / 4
loss = area / (1 / 8.0 + width / 2 / (4 * 0.5))
print(f"W/K {loss:.9f}")


def temperature(heat):
    if heat >= 0:
        return heat / HEAT
    return 0.0 if heat >= -LATENT else (heat + LATENT) / FROZEN


for mean in (-1.0, -7.0):
    heat, rows = 3.0 * HEAT, []
    for second in range(5 * 86_400):
        air = mean + 6.0 * sin(2 * pi * (second + 0.5) / 86_400)
        heat -= loss / VOLUME * (temperature(heat) - air)
        if (second + 1) % 43_200 == 0:
            rows.append((round(temperature(heat), 4), round(min(max(-heat / LATENT, 0.0), 1.0), 4)))
    print(mean, rows)
