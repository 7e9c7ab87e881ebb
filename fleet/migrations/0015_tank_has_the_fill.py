from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0014_fuel_tank'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='spraysheet',
            name='fleet_spraysheet_above_zero',
        ),
        migrations.AlterField(
            model_name='spraysheet',
            name='dead_l',
            field=models.DecimalField(decimal_places=1, max_digits=7, null=True),
        ),
        migrations.AlterField(
            model_name='spraysheet',
            name='fill_l_min',
            field=models.DecimalField(decimal_places=1, max_digits=7, null=True),
        ),
        migrations.AddConstraint(
            model_name='spraysheet',
            constraint=models.CheckConstraint(condition=models.Q(('gears_rpm__gt', 0), ('head_kpa__gt', 0), ('pump_kpa__gt', 0), ('pump_l_min__gt', 0), ('pump_rpm__gt', 0), ('rpms__len__gt', 0), models.Q(models.Q(('dead_l', None), ('fill_l_min', None)), models.Q(('dead_l__gte', 0), ('dead_l__isnull', False), ('fill_l_min__gt', 0), ('fill_l_min__isnull', False)), _connector='OR')), name='fleet_spraysheet_above_zero', violation_error_message='Every figure of a spray sheet is above zero; only what the pump can’t draw may be zero.'),
        ),
    ]
